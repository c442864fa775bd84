"""A host application that hears a group of Sparkplug: an example to start from. Needs pysparkplug.

python sparkplug.py HOST PORT GROUP
"""

import sys

import paho.mqtt.client as mqtt  # comes with it
import pysparkplug


def on_message(_client, _data, message):
    kind, node = message.topic.split("/")[2:4]
    read = {"NBIRTH": pysparkplug.NBirth, "NDATA": pysparkplug.NData}.get(kind)
    metrics = read.decode(message.payload).metrics if read else []
    said = [f"{kind} {node} {metric.name} {metric.value}" for metric in metrics]
    print("\n".join(said or [f"{kind} {node}"]), flush=True)  # NDEATH: the node is gone


client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
client.on_message = on_message
client.on_connect = lambda client, *_: client.subscribe(f"spBv1.0/{sys.argv[3]}/#", qos=1)
client.on_subscribe = lambda *_: print("listening", flush=True)
client.connect(sys.argv[1], int(sys.argv[2]))
client.loop_forever()

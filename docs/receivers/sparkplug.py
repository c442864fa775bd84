"""A host application that hears a group of Sparkplug: an example to start from. paho-mqtt and nothing else.

python sparkplug.py HOST PORT GROUP
"""

import struct
import sys

import paho.mqtt.client as mqtt


def fields(data):
    """Protocol buffers: (number, value) of each field; a value is a whole number, eight bytes, or bytes."""
    at = 0

    def varint():
        nonlocal at
        value = shift = 0
        while True:
            byte = data[at]
            at, value, shift = at + 1, value | (byte & 127) << shift, shift + 7
            if byte < 128:
                return value

    while at < len(data):
        key = varint()
        if key & 7 == 0:
            yield key >> 3, varint()
            continue
        size = 8 if key & 7 == 1 else varint()
        yield key >> 3, data[at : at + size]
        at += size


def on_message(_client, _data, message):
    kind, node = message.topic.split("/")[2:4]
    for number, part in fields(message.payload):
        if number == 2:  # a metric: its name, and a value by its type
            metric = dict(fields(part))
            value = metric.get(15, metric.get(14, metric.get(11)))
            if 13 in metric:
                value = struct.unpack("<d", metric[13])[0]
            name = metric[1].decode()
            print(kind, node, name, value.decode() if isinstance(value, bytes) else value, flush=True)


client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
client.on_message = on_message
client.on_connect = lambda client, *_: client.subscribe(f"spBv1.0/{sys.argv[3]}/#", qos=1)
client.on_subscribe = lambda *_: print("listening", flush=True)
client.connect(sys.argv[1], int(sys.argv[2]))
client.loop_forever()

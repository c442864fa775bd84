"""Takes results by HTTP, signed, and files each once: an example to start from. Needs starlette, uvicorn and
http-message-signatures.

python webhook.py SECRET_FILE FOLDER [PORT]
"""

import json
import os
import pathlib
import socket
import sys
from datetime import timedelta
from types import SimpleNamespace

import uvicorn
from http_message_signatures import HTTPMessageSignaturesException, HTTPMessageVerifier, algorithms
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route

secret, folder = pathlib.Path(sys.argv[1]).read_bytes().splitlines()[0].strip(), pathlib.Path(sys.argv[2])
keys = SimpleNamespace(resolve_public_key=lambda _bay: secret)  # every bay's is the same
verifier = HTTPMessageVerifier(signature_algorithm=algorithms.HMAC_SHA256, key_resolver=keys)
verifier.max_clock_skew = timedelta(minutes=1)
signed = {"require_components": ("@method", "@target-uri", "content-type", "content-digest")}


async def take(request):  # behind a proxy its URL is to be the one that the bay was given
    body = await request.body()
    try:
        verifier.verify(request, body=body, max_age=timedelta(minutes=5), **signed)
    except HTTPMessageSignaturesException as error:
        return PlainTextResponse(f"not signed with our secret just now: {error}", 401)
    event = json.loads(body)
    file = folder / f"{event['id'].replace('/', '-')}.json"  # the same id again: the same file again
    with file.with_suffix(".part").open("wb") as part:
        part.write(json.dumps(event["data"], ensure_ascii=False).encode())
        part.flush()
        os.fsync(part.fileno())  # what is answered by 2xx does not come again
    file.with_suffix(".part").replace(file)
    return PlainTextResponse(f"filed as {file.name}")


folder.mkdir(parents=True, exist_ok=True)
listening = socket.create_server(("127.0.0.1", int(sys.argv[3]) if len(sys.argv) > 3 else 8070))
print(f"http://127.0.0.1:{listening.getsockname()[1]}/results", flush=True)
app = Starlette(routes=[Route("/results", take, methods=["POST"])])
uvicorn.Server(uvicorn.Config(app, log_level="warning")).run(sockets=[listening])

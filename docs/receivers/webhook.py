"""Takes results by HTTP and files each once: an example to start from. Python and nothing else.

python webhook.py SECRET_FILE FOLDER [PORT]
"""

import base64
import hashlib
import hmac
import json
import os
import pathlib
import re
import sys
import time
from http.server import BaseHTTPRequestHandler
from socketserver import TCPServer

secret = pathlib.Path(sys.argv[1]).read_bytes().splitlines()[0].strip()
folder, port = pathlib.Path(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 8070
folder.mkdir(parents=True, exist_ok=True)


class Receiver(BaseHTTPRequestHandler):
    """Answers one request after the other."""

    timeout = 5  # who says nothing holds up the others no longer

    def do_POST(self):
        try:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            said, mac = (
                self.headers["Signature-Input"].split("=", 1)[1],
                self.headers["Signature"].split(":")[1],
            )
            age_s = time.time() - int(re.search(r";created=(\d+)", said)[1])
        except (AttributeError, IndexError, TypeError, ValueError):
            return self.answer(401, "not signed")
        digest = f"sha-256=:{base64.b64encode(hashlib.sha256(body).digest()).decode()}:"
        url = f"http://{self.headers['Host']}{self.path}"  # behind a proxy: the URL that the bay was given
        lines = {
            "@method": "POST",
            "@target-uri": url,
            "content-type": self.headers["Content-Type"],
            "content-digest": digest,
            "@signature-params": said,
        }
        base = "\n".join(f'"{name}": {value}' for name, value in lines.items()).encode()
        right = base64.b64encode(hmac.digest(secret, base, "sha256")).decode()
        if not hmac.compare_digest(mac.encode(), right.encode()) or not -60 < age_s < 300:
            return self.answer(401, "not signed with our secret just now")
        event = json.loads(body)
        file = folder / f"{event['id'].replace('/', '-')}.json"  # the same id again: the same file again
        with file.with_suffix(".part").open("wb") as part:
            part.write(json.dumps(event["data"], ensure_ascii=False).encode())
            part.flush()
            os.fsync(part.fileno())  # what is answered by 2xx does not come again
        file.with_suffix(".part").replace(file)
        self.answer(200, f"filed as {file.name}")
        return None

    def answer(self, status, text):
        self.send_response(status)
        self.end_headers()
        self.wfile.write(text.encode())


TCPServer.allow_reuse_address = True
with TCPServer(("127.0.0.1", port), Receiver) as server:
    sys.stdout.write(f"http://127.0.0.1:{server.server_address[1]}/results\n")
    sys.stdout.flush()
    server.serve_forever()

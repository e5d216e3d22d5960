# SPDX-License-Identifier: MIT
"""A proxy that loses, cuts and delays what is sent through it."""

import http.server
import json
import socket
import threading
import time

from tests.support.serving import API, SLUG


class BadLine:
    """Stands between the sender and a server like a proxy. `script` holds what happens to each
    request in turn; when it is at its end, requests go through.

        pass     through and back
        lost     through to the server, but the answer is not given back
        torn     half of the answer is given back
        other    as a hotel's sign-in page would answer
        N        an HTTP status with Retry-After: 1 and no problem document
        a dict   a 200 with that as JSON
    """

    def __init__(self, target, *script):
        line = self

        class Handler(http.server.BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self):
                body = self.rfile.read(int(self.headers["Content-Length"]))
                with line.lock:
                    what = line.script.pop(0) if line.script else "pass"
                    line.seen.append((time.monotonic(), json.loads(body)))
                    line.heads.append((self.requestline, dict(self.headers)))
                line.act(self, what, body)

            def log_message(self, *arguments):
                pass

        self.target = target
        self.script = list(script)
        self.seen = []   # when, and the rows
        self.heads = []
        self.lock = threading.Lock()
        self.gate = threading.Event()  # `held` requests wait for it
        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, args=(0.05,))
        self.thread.start()
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}/{SLUG}/"

    def end(self):
        self.gate.set()
        self.server.shutdown()
        self.thread.join()
        self.server.server_close()

    def act(self, handler, what, body):
        def answer(status, text, media_type, **headers):
            handler.send_response(status)
            handler.send_header("Content-Type", media_type)
            handler.send_header("Content-Length", str(len(text)))
            for name, value in headers.items():
                handler.send_header(name.replace("_", "-"), value)
            handler.end_headers()
            handler.wfile.write(text[:len(text) // 2] if what == "torn" else text)

        if what == "held":
            self.gate.wait(60)
            handler.close_connection = True
        elif isinstance(what, int):
            answer(what, b"busy", "text/plain", Retry_After="1")
        elif isinstance(what, dict):
            answer(200, json.dumps(what).encode(), "application/json")
        elif what == "other":
            answer(200, b"<!doctype html><title>Sign in</title>", "text/html")
        elif what == "away":
            answer(302, b"", "text/html", Location="http://sign-in.merrow.example/")
        else:
            told = self.target.ask("POST", f"{API}/readings", body,
                                   handler.headers["Authorization"].split()[1],
                                   Content_Type="application/json")
            if what != "lost":
                answer(told.status, told.body, told.headers["content-type"])
            if what in ("lost", "torn"):
                handler.wfile.flush()
                handler.connection.shutdown(socket.SHUT_RDWR)
                handler.close_connection = True

// SPDX-License-Identifier: MIT
// A proxy between a desk and the server, on which requests fail where a test says so.

import http from 'node:http';

/** An HTTP proxy to a server that may be down. Pages are loaded through `origin`. */
export class FlakyProxy {
  constructor() {
    this.target = null;
    /** Says of a request what becomes of it: 'pass', 'cut' (it never arrives), 'lose' (it arrives
     *  and is answered, but the answer is lost), 'hush' (it never arrives, and the line says nothing
     *  more), 'half' (of the answer half comes, and then nothing more), or a number: passed on so
     *  many ms later. */
    this.fate = () => 'pass';
    /** Changes an answer's body: (address, text) → text, or null to leave it alone. */
    this.rewrite = null;
    this.seen = []; // {method, path, body, status: null where no answer came through}
    this.sockets = new Set();
  }

  static async to(served) {
    const proxy = new FlakyProxy();
    proxy.target = served;
    proxy.server = http.createServer((request, answer) => proxy.carry(request, answer));
    proxy.server.on('connection', (socket) => {
      proxy.sockets.add(socket);
      socket.on('close', () => proxy.sockets.delete(socket));
    });
    await new Promise((resolve) => {
      proxy.server.listen(0, '127.0.0.1', resolve);
    });
    proxy.origin = `http://127.0.0.1:${proxy.server.address().port}`;
    return proxy;
  }

  /** No request arrives until `mend`; what is under way is cut off too. */
  cut() {
    this.fate = () => 'cut';
    for (const socket of this.sockets) socket.destroy();
  }

  mend() {
    this.fate = () => 'pass';
  }

  /** What was sent as POST readings, each as {bodies, status}. */
  uploads() {
    return this.seen
      .filter(({ method, path }) => method === 'POST' && path.endsWith('/readings'))
      .map(({ body, status, bytes }) => ({ bodies: JSON.parse(body), status, bytes }));
  }

  async carry(request, answer) {
    const chunks = [];
    try {
      for await (const chunk of request) chunks.push(chunk);
    } catch {
      return undefined; // who sent it has gone in the middle, or the line was cut
    }
    const body = Buffer.concat(chunks);
    const note = {
      method: request.method,
      path: request.url,
      body: body.toString(),
      bytes: body.length,
      status: null,
    };
    this.seen.push(note);
    const fate = this.fate(note, this.seen.length);
    if (fate === 'hush') return undefined;
    if (fate === 'cut') return request.socket.destroy();
    if (typeof fate === 'number')
      await new Promise((resolve) => {
        setTimeout(resolve, fate);
      });
    let reply;
    try {
      reply = await this.ask(request, body);
    } catch {
      return request.socket.destroy(); // the server is down
    }
    if (fate === 'lose') return request.socket.destroy();
    let out = reply.body;
    const changed = this.rewrite?.(request.url, out.toString());
    if (changed !== null && changed !== undefined) out = Buffer.from(changed);
    note.status = reply.status;
    const headers = { ...reply.headers };
    delete headers['transfer-encoding'];
    if (reply.status !== 304) headers['content-length'] = String(out.length);
    answer.writeHead(reply.status, headers);
    if (fate === 'half') return answer.write(out.subarray(0, out.length / 2));
    return answer.end(out);
  }

  ask(request, body) {
    return new Promise((resolve, reject) => {
      const headers = { ...request.headers, host: `127.0.0.1:${this.target.port}` };
      if (this.rewrite !== null) {
        delete headers['accept-encoding'];
        delete headers['if-none-match']; // of an answer without a body nothing can be changed
      }
      const onward = http.request(
        {
          host: '127.0.0.1',
          port: this.target.port,
          agent: false,
          method: request.method,
          path: request.url,
          headers,
        },
        (reply) => {
          const chunks = [];
          reply.on('data', (chunk) => chunks.push(chunk));
          reply.on('error', reject);
          reply.on('end', () =>
            resolve({
              status: reply.statusCode,
              headers: reply.headers,
              body: Buffer.concat(chunks),
            }),
          );
        },
      );
      onward.on('error', reject);
      onward.end(body);
    });
  }

  async end() {
    for (const socket of this.sockets) socket.destroy();
    await new Promise((resolve) => {
      this.server.close(resolve);
    });
  }
}

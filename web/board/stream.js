// SPDX-License-Identifier: MIT
// The event stream, by which the server says at once that something is new. Off until the reader turns
// it on.

const SILENT_MS = 75000; // without a heartbeat for so long the connection is taken for broken

export class Stream {
  #source = null;
  #beat = 0;
  #bell = 0;

  /** act() is called some moments after the server has said something. */
  constructor(event, act) {
    Object.assign(this, { event, act });
  }

  get open() {
    return this.#source !== null;
  }

  listen() {
    const source = new EventSource(`/api/v1/events/${this.event}/stream`);
    this.#source = source;
    const heard = () => {
      clearTimeout(this.#beat);
      this.#beat = setTimeout(() => {
        if (!this.open) return;
        this.#source.close();
        this.listen();
      }, SILENT_MS);
    };
    heard();
    source.addEventListener('beat', heard);
    source.onmessage = () => {
      heard();
      this.#ring();
    };
    source.onerror = () => {
      if (this.open && this.#source.readyState === EventSource.CLOSED) this.silence();
    };
  }

  /** Acts after a random delay, so that not all phones ask at once, and once for several messages. */
  #ring() {
    if (this.#bell) return;
    this.#bell = setTimeout(
      () => {
        this.#bell = 0;
        this.act();
      },
      500 + 2500 * Math.random(),
    );
  }

  silence() {
    clearTimeout(this.#beat);
    if (this.open) this.#source.close();
    this.#source = null;
  }
}

// SPDX-License-Identifier: MIT
// The server's word that something is new, by choice.

const SILENT_MS = 75000; // no beat for so long: the line is dead

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

  /** Not all phones at once, and once for several. */
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

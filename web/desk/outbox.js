// SPDX-License-Identifier: MIT
// Sends the stored readings, each until the server has accepted or refused it. Every reading has its
// id, so that one sent twice counts once.

export const BATCH = 50;
const BACKOFF_MS = 1000;
const BACKOFF_MAX_MS = 60000;

/** How long to wait after `failures` in a row: anything up to 1 s, 2 s, 4 s … 60 s. */
export function backoff(failures, random = Math.random) {
  return random() * Math.min(BACKOFF_MAX_MS, BACKOFF_MS * 2 ** Math.min(failures - 1, 10));
}

/**
 * The next to be sent: up to `limit` of the unsent in order of seq, as far as one key serves them.
 * keyFor(point) gives the key, or null. Returns {key, records} or null.
 */
export function nextBatch(records, keyFor, limit = BATCH) {
  const waiting = records.filter((r) => r.state === 'kept');
  for (const first of waiting) {
    const key = keyFor(first.body.point);
    if (!key) continue;
    return { key, records: waiting.filter((r) => keyFor(r.body.point) === key).slice(0, limit) };
  }
  return null;
}

/** The records of a batch with the states that the answer gives them. */
export function answered(batch, answer) {
  const refused = new Map((answer.refused || []).map((r) => [r.id, r.reason]));
  return batch.map((record) =>
    refused.has(record.id)
      ? { ...record, state: 'refused', refusal: refused.get(record.id) }
      : { ...record, state: 'sent', refusal: '' },
  );
}

/** What an answer's status means for the outbox. Only what the server says of the readings
 * themselves counts against them: a network's sign-in page may answer anything in its place. */
export function verdict(status) {
  if (status === 200) return 'taken';
  if (status === 401 || status === 403) return 'key';
  return [400, 409, 413, 415, 422].includes(status) ? 'wrong' : 'later';
}

export class Outbox {
  /**
   * waiting()  → all records in order of seq
   * keyFor     as in nextBatch; of keys that badKeys has it gives none
   * fresh()    → Promise; before a try, what other tabs know of keys
   * post(key, bodies) → {status, answer, retryAfter in s}; throws where there is no link
   * settle(records) → Promise; keeps and shows their new states
   * tell(what, n, refused) 'sent' with how many and of them refused, 'lost', 'key' (no longer in force), 'busy'
   */
  constructor(parts) {
    this.badKeys = new Set();
    Object.assign(this, parts);
    this.failures = 0;
    this.running = false;
    this.asked = false; // to try again, while a try was under way
    this.sender = false;
    this.limit = BATCH;
    this.timer = 0;
  }

  /** There may be something to send, or a better moment: tries now. */
  wake() {
    clearTimeout(this.timer);
    if (this.running) this.asked = true;
    else if (this.sender) this.run();
  }

  /** A try that is under way may fail by what has just become better: then another follows it. */
  async run() {
    this.running = true;
    try {
      do {
        this.asked = false;
        await this.fresh?.();
        for (let batch = this.#next(); batch; batch = this.#next()) {
          if (!(await this.#send(batch))) break;
        }
      } while (this.asked);
    } finally {
      this.running = false;
    }
  }

  #next() {
    return this.sender ? nextBatch(this.waiting(), this.keyFor, this.limit) : null;
  }

  async #send({ key, records }) {
    let reply;
    try {
      reply = await this.post(
        key,
        records.map((r) => r.body),
      );
    } catch {
      this.tell('lost', 0);
      return this.#later(0);
    }
    switch (verdict(reply.status)) {
      case 'taken':
        this.failures = 0;
        this.limit = Math.min(BATCH, this.limit * 2);
        await this.settle(answered(records, reply.answer));
        this.tell('sent', records.length, (reply.answer.refused || []).length);
        return true;
      case 'key':
        this.badKeys.add(key);
        this.tell('key', 0);
        return true;
      case 'later':
        this.tell('busy', reply.status);
        return this.#later(reply.retryAfter * 1000);
      default:
        // One reading that the server cannot parse does not hold up the others: it is found by halving.
        if (records.length > 1) {
          this.limit = records.length >> 1;
          return true;
        }
        await this.settle([
          {
            ...records[0],
            state: 'refused',
            refusal: reply.answer.detail || reply.answer.title || String(reply.status),
          },
        ]);
        return true;
    }
  }

  #later(least) {
    clearTimeout(this.timer);
    this.failures++;
    this.timer = setTimeout(() => this.wake(), Math.max(least, backoff(this.failures)));
    return false;
  }
}

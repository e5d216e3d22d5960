// SPDX-License-Identifier: MIT
// The server's time, by this machine's running clock (performance.now), which nobody sets.
// Each exchange with the server bounds the difference of the two by half its round trip; the one
// with the smallest round trip of the last ten minutes holds.

const KEEP_MS = 600000;
const STEP_MS = 50; // in a second the machine's two clocks never drift apart by so much
const DRIFT = 50e-6; // of a quartz clock, at most: 0.2 s an hour
const BACK_MS = 1000; // machines set their clocks right by less, while they run
const LATCH_MS = 20;
const FIRST = 8;
const LATER = 4;
export const ROUND_MS = 60000;

/** How far the clock may be out at a point of that precision, in milliseconds. */
const NEED_MS = { minute: 1000, second: 250, tenth: 50, hundredth: 5, millisecond: 0.5 };

/** An exchange: asked and answered at `sent` and `back` of the running clock; the server said `ms`. */
export function sampleOf(sent, back, ms) {
  return { base: ms - (sent + back) / 2, trip: back - sent, at: back };
}

/** The sample to go by at `now`: smallest round trip of the last ten minutes, else the newest. */
export function bestSample(samples, now) {
  const young = samples.filter((s) => now - s.at <= KEEP_MS);
  if (young.length === 0) return samples.reduce((a, s) => (a && a.at >= s.at ? a : s), null);
  return young.reduce((a, s) => (s.trip < a.trip ? s : a));
}

/** How far a sample's base may be from the truth at `now`, in milliseconds. */
export function uncertaintyOf(sample, now) {
  return sample.trip / 2 + 1 + Math.max(0, now - sample.at) * DRIFT;
}

/** Whether +-`uncertainty` will do for readings of that precision. */
export function goodEnough(precision, uncertainty) {
  return uncertainty <= (NEED_MS[precision] ?? NEED_MS.second);
}

/**
 * Whether the time between two stamps is as good as readings of that precision need, however far out
 * both of them are: what they have in common falls out of it. Each is {made, mono, stretch}: its time,
 * the running clock, and the stretch of that clock.
 */
export function goodBetween(precision, a, b) {
  const apart = Math.abs(a.made - a.mono - (b.made - b.mono));
  return (
    a.stretch === b.stretch && Math.abs(a.mono - b.mono) < KEEP_MS && goodEnough(precision, apart)
  );
}

export class Clock {
  /**
   * mono  () => the running clock, ms;  wall () => the machine's time, ms since 1970
   * ask   async () => {ms, back}: the server's ms since 1970, and the running clock when the answer
   *       came; throws where there is none
   * saved {offset, uncertainty, wall, seen} of an earlier visit, or null: what was known at `wall` of
   *       the machine's time, which then ran on to `seen`
   * visit a name for the time from the page's opening to its closing
   * tell  (what, ms) => void: 'sync', 'jump' (a step of ms was seen), 'moved' (so far was the
   *       clock from the truth), 'lost' (the server cannot be had)
   */
  constructor({ mono, wall, ask, saved = null, visit = '', tell = () => {} }) {
    Object.assign(this, {
      mono,
      wall,
      ask,
      tell,
      saved,
      visit,
      samples: [],
      told: null, // what a person has read off a watch: {base, out, at}
      jumped: false,
      step: 0, // of the jumps that nobody has said anything of yet
      chosen: false, // somebody has
      stretches: [{ base: null, step: 0, slept: null }], // of the visit, parted by jumps
      busy: false,
      again: false,
    });
    this.difference = this.#apart();
    // Time does not run backwards: then somebody has set the machine's clock, or its battery is flat.
    const seen = saved ? (saved.seen ?? saved.wall) : -Infinity;
    this.wrong = this.difference + this.mono() < seen - BACK_MS;
    this.base = this.difference + (saved ? saved.offset : 0);
  }

  /** The wall clock less the running one. A machine that is busy may hold the page up between the
   *  two readings, which takes from it; so the larger of two counts. */
  #apart() {
    const difference = () => this.wall() - this.mono();
    return Math.max(difference(), difference());
  }

  /** What a stamp taken at `mono` of the running clock is worth. All in ms, `age` in seconds. */
  at(mono) {
    this.check();
    const sample = this.jumped ? null : bestSample(this.samples, mono);
    const wallMs = mono + this.difference;
    let uncertainty = null;
    let age = null;
    if (sample) {
      this.base = sample.base;
      uncertainty = uncertaintyOf(sample, mono);
      age = Math.max(0, Math.round((mono - sample.at) / 1000));
    } else if (this.told && !this.jumped) {
      this.base = this.told.base;
      uncertainty = this.told.out && this.told.out + (mono - this.told.at) * DRIFT;
      age = Math.round((mono - this.told.at) / 1000);
    } else if (this.saved && !this.jumped && !this.wrong) {
      const since = Math.max(0, wallMs - this.saved.wall);
      uncertainty = this.saved.uncertainty + since * DRIFT;
      age = Math.round(since / 1000);
    }
    return {
      ms: mono + this.base,
      wall: wallMs,
      mono,
      offset: this.base - this.difference,
      uncertainty,
      age,
      measured: Boolean(sample),
      told: Boolean(this.told) && !sample,
      stretch: this.#nameOf(this.stretches.length - 1),
      jumped: this.jumped,
      wrong: this.wrong,
    };
  }

  /** good, doubtful, unverified or wrong, for readings of that precision. */
  quality(precision, now = this.at(this.mono())) {
    if (now.wrong) return 'wrong';
    if (now.uncertainty === null) return 'unverified';
    return now.measured && goodEnough(precision, now.uncertainty) ? 'good' : 'doubtful';
  }

  /** The flags of a stamp (from at()) at a point of that precision. What an earlier visit knew holds
   *  only as long as nobody has set the clock since, which nobody can tell. */
  flags(stamp, precision) {
    if (stamp.wrong) return ['clock-wrong'];
    if (stamp.jumped) return ['clock-jumped'];
    return stamp.measured && goodEnough(precision, stamp.uncertainty) ? [] : ['clock-unverified'];
  }

  /** What the next visit is to know. */
  get record() {
    return this.saved && { ...this.saved, seen: Math.max(this.wall(), this.saved.seen ?? 0) };
  }

  /** Once a second and at each stamp: sees a clock that was set, and a machine that slept. */
  check() {
    const step = this.#apart() - this.difference;
    this.difference += step;
    if (Math.abs(step) <= STEP_MS) return;
    this.step = this.jumped && !this.chosen ? this.step + step : step;
    this.jumped = true;
    this.chosen = false;
    this.jumpedAt = this.mono();
    this.stretches.push({ base: null, step, slept: null });
    this.samples = [];
    this.tell('jump', step);
  }

  #nameOf(i) {
    return this.visit + '.' + i;
  }

  /** Until the next comparison somebody's word holds: the machine slept, so that the running clock
   *  is behind by the step; or its clock was set, and the running one is right. */
  choose(slept) {
    if (!this.jumped || this.chosen) return;
    this.chosen = true;
    if (slept) this.base += this.step;
    for (let i = this.stretches.length - 1; i > 0; i--) {
      this.stretches[i].slept ??= slept;
      if (this.stretches[i - 1].base !== null) break;
    }
  }

  /** A person's word that it was `ms` since 1970 at `mono` of the running clock, give or take `out`
   *  (null: nobody knows). It holds until the next comparison. */
  set(ms, mono, out) {
    this.told = { base: ms - mono, out, at: mono };
    this.base = this.told.base;
    this.jumped = this.wrong = false;
  }

  /** What is known by now of the stretches of this visit: {name: {base, sure}}. From one to that before
   *  it leads what was said of the jump between them; where nobody did, a machine whose clock went
   *  forward has slept, and one whose clock went back was set. */
  bases() {
    const found = {};
    let known = null;
    for (let i = this.stretches.length - 1; i >= 0; i--) {
      const { base } = this.stretches[i];
      const after = this.stretches[i + 1];
      if (base !== null) known = { base, sure: true };
      else if (known) {
        const slept = after.slept ?? after.step > 0;
        known = {
          base: known.base - (slept ? after.step : 0),
          sure: known.sure && after.slept !== null,
        };
      }
      if (known) found[this.#nameOf(i)] = known;
    }
    return found;
  }

  /** A round of exchanges: eight at the start and after a jump, else four. One that is asked for
   *  while another is under way follows it: that one may have begun before the machine slept. */
  async sync() {
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    try {
      const round = [];
      const count = this.samples.length && !this.jumped ? LATER : FIRST;
      for (let i = 0; i < count; i++) {
        const sent = this.mono();
        const difference = this.wall() - sent;
        const { ms, back } = await this.ask();
        // Nothing follows from an exchange during which the machine slept, nor from those before it.
        if (Math.abs(this.wall() - this.mono() - difference) <= STEP_MS) {
          round.push(sampleOf(sent, back, ms));
        } else round.length = 0;
      }
      this.take(round);
    } catch {
      this.tell('lost', 0);
    } finally {
      this.busy = false;
    }
    if (!this.again) return;
    this.again = false;
    await this.sync();
  }

  take(round) {
    if (round.length === 0) return;
    const now = this.mono();
    const old = this.at(now);
    const best = bestSample(round, now);
    const apart = best.base - this.base;
    const room = uncertaintyOf(best, now) + (old.uncertainty ?? 0) + LATCH_MS;
    const known = old.uncertainty !== null || old.jumped || old.wrong;
    const moved = known && Math.abs(apart) > room;
    // Samples that contradict the newest are dropped, whether drift, sleep or a set clock is the reason.
    this.samples =
      moved || this.jumped
        ? round
        : this.samples.concat(round).filter((s) => now - s.at <= KEEP_MS);
    this.jumped = this.wrong = false;
    this.told = null;
    this.stretches.at(-1).base = best.base;
    if (moved) this.tell('moved', apart);
    const held = this.at(now);
    const { offset, uncertainty, wall } = held;
    this.saved = { offset, uncertainty, wall, seen: wall };
    this.tell('sync', held.uncertainty);
  }
}

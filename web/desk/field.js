// SPDX-License-Identifier: MIT
// The one field and its keys. Single letters work only while it has the focus; digits reach it from
// wherever no text is written. A key that is held down counts once.

const TAKEN_MS = 100; // what was taken stays in sight for so long at most
const LETTERS = { b: 'blank', g: 'give', u: 'undo' };
const KEYS = {
  Enter: ['enter'],
  '+': ['blank'],
  '*': ['give'],
  '-': ['undo'],
  '?': ['help'],
  ArrowUp: ['pick', -1],
  ArrowDown: ['pick', 1],
  PageUp: ['station', -1],
  PageDown: ['station', 1],
  F2: ['note'],
  F4: ['measures'],
  Escape: ['escape'],
};

const TYPED_AT_ONCE = ['+', '*']; // like digits: a button that has the focus has no use for them
const WORDS = ['note', 'reason']; // of a line that is changed: whatever is typed stands for itself

/**
 * What a key writes where numbers are typed, by its place on the keyboard: with Num Lock off the
 * number pad says "PageDown", and a French keyboard "é". With Shift the row above the letters has
 * signs on many keyboards; a digit that it writes is one. null for any other key.
 */
export function digitOf({ key, code = '', shiftKey = false }) {
  if (/^[0-9]$/.test(key)) return key;
  if (code === 'NumpadDecimal') return '.';
  const place = /^(Digit|Numpad)([0-9])$/.exec(code);
  const writes = place && (place[1] === 'Numpad' || (!shiftKey && key !== '*'));
  return writes ? place[2] : null;
}

const isHeld = ({ ctrlKey, metaKey, altKey, isComposing }) =>
  ctrlKey || metaKey || altKey || isComposing;

/** Whether somebody writes text in that element, so that its keys are its own. */
const isText = (node) =>
  node.matches?.('textarea, input:not([type=checkbox], [type=file])') || node.isContentEditable;

/** Writes `text` where the caret is. */
function write(input, text) {
  const { selectionStart: from, selectionEnd: to, maxLength } = input;
  if (maxLength > 0 && input.value.length - (to - from) >= maxLength) return;
  input.setRangeText(text, from, to, 'end');
}

export class Field {
  /**
   * input   the field
   * does    enter(event), blank(event), give(event), undo(event), sighting(event), station(step),
   *         pick(step), note(), measures(), help(), fault(letter, step), escape(), changed()
   */
  constructor(input, does) {
    Object.assign(this, { input, does, taken: false });
    input.addEventListener('keydown', (event) => {
      // Before the browser writes the key: where the value changes in between, as `beforeinput` comes,
      // WebKit loses what was to be written.
      this.clear();
      this.#key(event);
    });
    input.addEventListener('beforeinput', () => this.clear());
    input.addEventListener('input', () => {
      // A touch keyboard does not say which key it was: the text that it wrote is read instead.
      const text = input.value;
      const clean = text.replace(/[^\d\s:.,*]/g, '');
      if (clean !== text) input.value = clean;
      does.changed();
      const last = text.at(-1);
      if (clean !== text && LETTERS[last] && does[LETTERS[last]])
        does[LETTERS[last]](new Event('touch'));
    });
    document.addEventListener('keydown', (event) => this.#elsewhere(event));
  }

  /** A key that went down outside the field. */
  #elsewhere(event) {
    const { target, key } = event;
    if (target === this.input || isHeld(event)) return;
    if (key === 'Escape') return this.focus();
    const digit = digitOf(event);
    if (isText(target)) {
      // In a line that is changed numbers are numbers too; what else is written there has its letters.
      const number = target.closest('form.edit') && !WORDS.includes(target.name);
      if (digit === null || digit === key || !(number || event.code.startsWith('Numpad'))) return;
      event.preventDefault();
      if (!event.repeat) write(target, digit);
      return;
    }
    const nowhere = target === document.body;
    if (digit === null && !nowhere && !TYPED_AT_ONCE.includes(key)) return;
    if (nowhere && ['Tab', ' ', 'Shift'].includes(key)) return;
    this.focus();
    this.clear();
    if (digit === null) this.#key(event);
    else {
      event.preventDefault();
      if (!event.repeat) this.#write(digit);
    }
  }

  #write(digit) {
    write(this.input, digit);
    this.does.changed();
  }

  /** What was taken counts as gone. */
  get text() {
    return this.taken ? '' : this.input.value;
  }

  set text(text) {
    this.taken = false;
    this.input.value = text;
    this.does.changed();
  }

  /** What stands here has been read. It goes from sight with the next key or with clear(), which
   *  comes with the line that it became: a slow machine paints once then and not twice. */
  take() {
    this.taken = true;
    setTimeout(() => this.clear(), TAKEN_MS);
  }

  clear() {
    if (this.taken) this.text = '';
  }

  focus() {
    this.input.focus({ preventScroll: true });
  }

  #key(event) {
    if (isHeld(event)) return;
    const digit = digitOf(event);
    if (digit === event.key) return; // the browser writes it
    if (digit !== null) {
      event.preventDefault();
      if (!event.repeat) this.#write(digit);
      return;
    }
    const action = this.#actionOf(event);
    if (action === null) return;
    event.preventDefault();
    const [name, ...values] = action;
    // Of keys that are held down only those that step go on.
    if (event.repeat && name !== 'pick') return;
    this.does[name](...(values.length ? values : [event]));
  }

  /** What the key does, and with what; null where it just writes. */
  #actionOf({ key, shiftKey }) {
    const empty = this.text.trim() === '';
    if (key === '/') return empty ? ['station', 1] : ['sighting'];
    if (key in KEYS) return KEYS[key];
    if (key.length !== 1 || /[\d:.,]/.test(key) || (key === ' ' && !empty)) return null;
    const letter = key.toLowerCase();
    return LETTERS[letter] ? [LETTERS[letter]] : ['fault', letter, shiftKey ? -1 : 1];
  }
}

/**
 * A button whose act has the instant at which it went down, and happens when it comes up on it;
 * sliding off cancels it.
 */
export function pressButton(button, act) {
  let down = null;
  const note = (event) => {
    if (!event.repeat) down = event;
  };
  button.addEventListener('pointerdown', note);
  button.addEventListener('keydown', note);
  button.addEventListener('click', (event) => {
    act(down && event.timeStamp - down.timeStamp < 3000 ? down : event);
    down = null;
  });
}

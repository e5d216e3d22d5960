// SPDX-License-Identifier: MIT
// The rules: event.json as it is in force, in forms or as text, tried before it is taken.

import { button, make } from '../../shared/dom.js';
import { Refused } from '../api.js';
import { clearFaults, field } from '../forms.js';
import { para } from '../parts.js';
import { awardsPage, classesPage, eventPage } from './event.js';
import { controlAt, Draft } from './form.js';
import { tidy } from './json.js';
import { routePage } from './route.js';
import { penaltiesPage, scoringPage } from './scoring.js';
import { conflictBox, faultsOf, markPage, summaryOf, triedWords } from './try.js';

// Each page with the keys of event.json that it shows; the first key that fits a place wins.
const PAGES = [
  ['event', 'Event and days', eventPage, ['name', 'slug', 'timezone', 'unit', 'days']],
  ['classes', 'Classes', classesPage, ['classes']],
  ['penalties', 'What is charged', penaltiesPage, ['scoring.defaults']],
  ['scoring', 'Totals and ranking', scoringPage, ['scoring']],
  ['route', 'Route', routePage, ['route']],
  ['awards', 'Prizes', awardsPage, ['awards']],
];

const pageOf = (path) =>
  (PAGES.find(([, , , keys]) => keys.some((key) => path.startsWith(key))) || PAGES[0])[0];

// What was typed and not taken, while another section is looked at. Gone with the key.
let unsaved = null;

/** The rules as they are edited, with the parts of the page that show them. */
class Editor {
  constructor(office, place, kept) {
    this.office = office;
    this.kept = kept;
    this.faults = [];
    this.page = 'event';
    this.shown = { item: null };
    this.watching = [];
    this.asText = false;
    this.text = make('textarea', {
      rows: '30',
      cols: '90',
      spellcheck: 'false',
      class: 'code-text',
    });
    this.text.addEventListener('input', () => this.stale());
    this.forms = make('nav', { class: 'acts parts', 'aria-label': 'Parts of the rules' });
    this.body = make('div', { id: 'sheet' });
    this.top = make('div', {});
    this.preview = make('div', { id: 'tried', 'aria-live': 'polite', tabindex: '-1' });
    this.views = make(
      'p',
      { class: 'acts', role: 'group', 'aria-label': 'How the rules are shown' },
      (this.viewForms = button('In forms', () => this.view(false))),
      (this.viewText = button('As text', () => this.view(true))),
    );
    this.form = make(
      'form',
      { class: 'sheet rules', novalidate: true },
      this.top,
      this.views,
      this.forms,
      this.body,
      make(
        'p',
        { class: 'acts check' },
        make('button', { class: 'strong' }, 'Check it'),
        button('Back to what is in force', () => this.startAnew()),
      ),
      this.preview,
    );
    this.form.addEventListener('submit', (event) => {
      event.preventDefault();
      this.check();
    });
    this.load(kept.text);
    if (unsaved && unsaved.api === office.api && unsaved.text !== kept.text) {
      this.kept = { text: unsaved.from, tag: unsaved.tag };
      this.load(unsaved.text);
      this.note = 'What you typed before is still here; it is not taken yet.';
    }
    place.append(this.form);
    this.draw();
  }

  load(text) {
    this.source = text;
    this.draft = new Draft(JSON.parse(text.replace(/^\uFEFF/, '')), {
      touched: () => this.preview.replaceChildren(),
      changed: () => {
        this.source = tidy(this.draft.root);
        this.stale();
        this.watching.forEach((one) => one.later());
      },
    });
  }

  /** What would be sent. */
  now() {
    return this.asText ? this.text.value : this.source;
  }

  stale() {
    this.preview.replaceChildren();
    const text = this.now();
    unsaved =
      text === this.kept.text
        ? null
        : { api: this.office.api, text, from: this.kept.text, tag: this.kept.tag };
  }

  /** What is wrong with the text as such, each with its line: a key that stands twice is lost in
   * forms. */
  async slips() {
    try {
      const reply = await this.office.api.send(
        'POST',
        'rules/try',
        this.text.value,
        'application/json',
      );
      return faultsOf(reply.errors).filter(({ line }) => line > 0);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      return [{ path: '', text: error.message }, ...faultsOf(error.errors)];
    }
  }

  async view(asText) {
    clearFaults(this.form);
    if (!asText && this.asText) {
      const slips = this.text.value === this.source ? [] : await this.slips();
      if (slips.length) {
        this.tell(slips);
        return;
      }
      try {
        this.load(this.text.value);
      } catch (error) {
        if (!(error instanceof SyntaxError)) throw error;
        this.tell([{ path: '', text: `The text is not well-formed: ${error.message}` }]);
        return;
      }
    }
    if (asText) this.text.value = this.source;
    this.asText = asText;
    this.shown.item = null;
    this.draw();
  }

  draw(focus = null) {
    this.watching = [];
    this.viewForms.setAttribute('aria-pressed', String(!this.asText));
    this.viewText.setAttribute('aria-pressed', String(this.asText));
    this.forms.hidden = this.asText;
    if (this.asText) {
      this.body.replaceChildren(
        field(
          'event.json',
          this.text,
          'the event, its days, classes, scoring and route; schema/README.md explains every key',
        ),
      );
      return;
    }
    this.forms.replaceChildren(
      ...PAGES.map(([name, title]) =>
        button(
          title,
          () => {
            this.page = name;
            this.shown.item = null;
            this.draw();
            this.body.querySelector('h2').focus();
          },
          { 'aria-current': name === this.page ? 'true' : null },
        ),
      ),
    );
    const [, title, page] = PAGES.find(([name]) => name === this.page);
    this.body.replaceChildren(
      make('h2', { tabindex: '-1' }, title),
      ...page(
        this.draft,
        (path) => this.draw(path),
        this.office,
        { textOf: () => this.source, watch: (box) => this.watching.push(box) },
        this.shown,
      ),
    );
    markPage(this.faults, this.body);
    if (this.note) {
      this.top.replaceChildren(para(this.note));
      this.note = null;
    }
    if (focus !== null) this.focusOn(focus);
  }

  focusOn(path) {
    const control = controlAt(path, this.body) || this.body.querySelector('h2');
    for (
      let up = control.closest('details:not([open])');
      up;
      up = up.parentElement.closest('details:not([open])')
    )
      up.open = true;
    // A thing in a list is reached at its name, a value in its field.
    const named = /\]$/.test(path) && control.closest('fieldset')?.querySelector('legend');
    (named && named.closest('fieldset').dataset.path === path ? named : control).focus();
  }

  /** Shows the field of a place in the document, wherever it is. */
  lead(path, line = 0) {
    if (this.asText) {
      const lines = this.text.value.split('\n');
      const from = lines.slice(0, Math.max(line - 1, 0)).join('\n').length + (line > 1 ? 1 : 0);
      this.text.focus();
      if (line > 0) this.text.setSelectionRange(from, from + lines[line - 1].length);
      return;
    }
    this.page = pageOf(path);
    const item = /^route\[(\d+)\]/.exec(path);
    this.shown.item = item ? Number(item[1]) : null;
    this.draw(path);
  }

  tell(told) {
    const faults = told.map((fault) => {
      const words = fault.path ? this.draft.whyUnread(fault.path) : null;
      return words === null ? fault : { ...fault, text: `${fault.path}: ${words}` };
    });
    this.faults = faults;
    clearFaults(this.form);
    const box = summaryOf(faults, (path, line) => this.lead(path, line));
    this.top.replaceChildren(box);
    if (!this.asText) markPage(faults, this.body);
    box.focus();
  }

  async check() {
    this.faults = [];
    this.top.replaceChildren();
    clearFaults(this.form);
    const text = this.now();
    try {
      const reply = await this.office.api.send('POST', 'rules/try', text, 'application/json');
      if (reply.errors.length) {
        this.preview.replaceChildren();
        this.tell(faultsOf(reply.errors));
        return;
      }
      this.preview.replaceChildren(
        ...triedWords(reply, (path) => this.lead(path)),
        reply.taken
          ? para(button('Take these rules', () => this.take(text), { class: 'strong' }))
          : '',
      );
      this.preview.focus();
    } catch (error) {
      this.refused(error);
    }
  }

  async take(text) {
    try {
      await this.office.api.send('PUT', 'rules', text, 'application/json', this.kept.tag);
      this.kept = await this.office.api.document('rules');
      unsaved = null;
      this.source = text;
      this.preview.replaceChildren(para('The rules are taken; everything was scored again.'));
      this.office.say('The rules are taken.');
      this.preview.focus();
    } catch (error) {
      if (error instanceof Refused && error.status === 412) await this.conflict();
      else this.refused(error);
    }
  }

  async conflict() {
    const theirs = await this.office.api.document('rules');
    const box = conflictBox(this.kept.text, theirs.text, {
      mine: () => {
        this.kept = theirs;
        this.stale();
        this.top.replaceChildren(
          para(
            'Yours stays. Check it again: where theirs differs, it is replaced once yours is taken.',
          ),
        );
        this.form.querySelector('button.strong').focus();
      },
      theirs: () => this.startAnew(),
    });
    this.preview.replaceChildren();
    this.top.replaceChildren(box);
    box.focus();
  }

  async startAnew() {
    try {
      this.kept = await this.office.api.document('rules');
    } catch (error) {
      this.refused(error);
      return;
    }
    unsaved = null;
    this.faults = [];
    this.shown.item = null;
    this.top.replaceChildren();
    this.preview.replaceChildren();
    this.load(this.kept.text);
    this.text.value = this.kept.text;
    this.draw();
    this.office.say('These are the rules in force.');
    this.views.querySelector('[aria-pressed=true]').focus();
  }

  refused(error) {
    if (!(error instanceof Refused)) throw error;
    this.tell([{ path: '', text: error.message }, ...faultsOf(error.errors)]);
  }
}

export async function showRules(office, place) {
  new Editor(office, place, await office.api.document('rules'));
  return { refresh: async () => {}, busy: () => true };
}

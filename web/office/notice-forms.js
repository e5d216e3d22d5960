// SPDX-License-Identifier: MIT
// Posting a bulletin or a classification: shown as it will be, asked once more, then sealed.

import { button, make } from '../shared/dom.js';
import { confirmed } from './confirm.js';
import { clearFaults, field, input, onSubmit, showFaults, tryAct } from './forms.js';
import { moment } from './moments.js';
import { contentFacts, differences, facts, typed } from './notice-parts.js';
import { para } from './parts.js';

/** Asks what a classification would say, together with the tag under which that may be posted. */
async function ahead(office, kind) {
  const { tag } = await office.api.tagged('notices');
  return { ...(await office.api.get('classifications/' + kind)), tag };
}

const never = () =>
  para(
    'A notice is sealed as it is posted. It can be replaced by a later one, but never changed or taken away.',
  );

async function postBulletin(office, form, done) {
  const { title, text } = form.elements;
  const faults = title.value.trim() ? [] : [{ text: 'Give the bulletin a title.', control: title }];
  if (showFaults(form, faults)) return;
  const body = { kind: 'bulletin', title: title.value.trim(), text: text.value.trim() };
  if (
    !(await confirmed(
      'Post this bulletin?',
      [make('article', { class: 'sheet' }, make('h3', {}, body.title), typed(body.text)), never()],
      'Post it',
      'Not yet',
    ))
  )
    return;
  await send(office, form, body, null, done);
}

async function send(office, form, body, tag, done) {
  await tryAct(form, async () => {
    const { number } = await office.api.post('notices', body, tag);
    form.reset();
    office.say(`Notice ${number} is posted.`);
    await done(number);
  });
}

async function postClassification(office, form, kind, hold, done) {
  clearFaults(form);
  const text = form.elements.text.value.trim();
  await tryAct(form, async () => {
    const draft = await ahead(office, kind);
    if (draft.obstacles.length) {
      await hold(waiting(kind));
      return;
    }
    const { content } = draft;
    const sure = await confirmed(
      `Post notice ${content.number}: ${content.title}?`,
      [
        facts([
          ['Posted', 'as soon as you say so; it is now ', moment(office, content.posted)],
          ...contentFacts(office, content),
        ]),
        typed(text),
        ...differences(content),
        never(),
      ],
      `Post it as ${kind}`,
      'Not yet',
    );
    if (sure) await send(office, form, { kind, text }, draft.tag, done);
  });
}

/** Why it cannot be posted yet: no fault of anybody. The steps that are left stand below it. */
function waiting(kind) {
  return make(
    'div',
    { class: 'faults calm', tabindex: '-1', role: 'group', 'aria-label': 'Not yet' },
    make('h3', {}, `The ${kind} classification has to wait`),
    para(
      kind === 'final'
        ? 'Nothing was posted. The steps without a tick are left:'
        : 'Nothing was posted. It tells everything, so nothing may be hidden from the public any more:',
    ),
  );
}

export function bulletinForm(office, done) {
  const text = make('textarea', { name: 'text', rows: '4', cols: '60' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'bulletin' },
    field('Title', input('title', { size: '50', spellcheck: 'true' })),
    field('Text', text, 'for everybody to read'),
    para(make('button', {}, 'Look at it, then post')),
  );
  onSubmit(form, () => postBulletin(office, form, done));
  return form;
}

export function classificationForm(office, hold, done) {
  const text = make('textarea', { name: 'text', rows: '3', cols: '60' });
  const press = (kind) => () => void postClassification(office, form, kind, hold, done);
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'classification' },
    field('Words above the tables', text, 'such as where protests are handed in; may stay empty'),
    make(
      'p',
      { class: 'acts' },
      button('Look at the provisional, then post', press('provisional'), {
        id: 'post-provisional',
      }),
      button('Look at the final, then post', press('final'), { id: 'post-final' }),
    ),
  );
  form.addEventListener('submit', (event) => event.preventDefault());
  return form;
}

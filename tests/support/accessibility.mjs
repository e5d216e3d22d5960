// SPDX-License-Identifier: MIT
// What a page must be for everybody: clean for axe, no wider than the window, legible, all of it
// reached by keyboard. Each check returns a list of faults in words.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
// What depends on the theme; the other rules see the same page in both.
const COLOURS = ['color-contrast', 'link-in-text-block'];

/** Examines a page that believes itself hidden meanwhile, so that it draws nothing anew during the
 *  check. */
async function unseen(page, look) {
  const set = (value) =>
    page.evaluate((hidden) => {
      for (const [name, whenHidden] of [
        ['hidden', true],
        ['visibilityState', 'hidden'],
      ]) {
        if (hidden)
          Object.defineProperty(document, name, { value: whenHidden, configurable: true });
        else delete document[name];
      }
    }, value);
  await set(true);
  try {
    return await look();
  } finally {
    await set(false);
  }
}

/** What axe could not tell, a line a rule and reason, with how often and one place. */
export function unclear(results) {
  const lines = new Map();
  for (const { id, nodes } of results) {
    for (const node of nodes) {
      for (const { message } of node.any.concat(node.all, node.none)) {
        const line = `axe cannot tell ${id}: ${message}`;
        const { count = 0, place = node.target.join(' ') } = lines.get(line) ?? {};
        lines.set(line, { count: count + 1, place });
      }
    }
  }
  return [...lines].map(([line, { count, place }]) => `${line} (${count} times, ${place})`);
}

function told(result, word) {
  return result.nodes.map(
    (node) =>
      `${word} ${result.id}: ${node.target.join(' ')} ` +
      `${node.html.slice(0, 160)} ${node.any
        .concat(node.all, node.none)
        .map((check) => check.message)
        .join('; ')}`,
  );
}

/** Runs axe by the rules of WCAG 2.2 AA. `colours` true: only those on colour. `contrast` true:
 *  text must stand out by 7 to 1 too, as AAA wants it. Returns {faults, incomplete}: what is wrong, and what axe could not tell. */
export async function axe(page, { colours = false, contrast = false } = {}) {
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(AXE);
  const found = await unseen(page, () =>
    page.evaluate(
      ([tags, rules, enhanced]) =>
        window.axe.run(document, {
          runOnly: rules ? { type: 'rule', values: rules } : { type: 'tag', values: tags },
          rules: { 'color-contrast-enhanced': { enabled: enhanced } },
          resultTypes: ['violations', 'incomplete'],
        }),
      [TAGS, colours ? COLOURS : null, contrast],
    ),
  );
  return {
    faults: found.violations.flatMap((result) => told(result, 'axe')),
    incomplete: unclear(found.incomplete),
  };
}

/** Text that does not stand out from its ground by `least` to 1, worked out by ourselves: axe
 *  leaves out what something else lies over. Only for pages whose grounds are plain colours. */
export function faint(page, least) {
  return page.evaluate((min) => {
    const rgb = (text) => text.match(/[\d.]+/g).map(Number);
    const light = (colour) => {
      const [r, g, b] = colour
        .slice(0, 3)
        .map((c) => c / 255)
        .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const faults = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const e = walker.currentNode.parentElement;
      const text = walker.currentNode.data.trim();
      if (text === '' || e.closest(':disabled') || !e.checkVisibility()) continue;
      let ground = e;
      while (ground && rgb(getComputedStyle(ground).backgroundColor)[3] === 0) {
        ground = ground.parentElement;
      }
      const [a, b] = [
        rgb(getComputedStyle(e).color),
        ground ? rgb(getComputedStyle(ground).backgroundColor) : [255, 255, 255],
      ].map(light);
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < min) faults.push(`${ratio.toFixed(2)} to 1: ${e.tagName} ${text.slice(0, 30)}`);
    }
    return [...new Set(faults)].slice(0, 10);
  }, least);
}

/** Whether the page scrolls sideways at its present width, and what sticks out. */
export function sideways(page) {
  return page.evaluate(() => {
    const width = document.documentElement.clientWidth;
    if (document.scrollingElement.scrollWidth <= width) return [];
    const out = [...document.body.querySelectorAll('*')]
      .filter(
        (e) =>
          e.getBoundingClientRect().right > width + 1 &&
          e.closest('[data-scrolls], .scroll') === null,
      )
      .map((e) => `${e.tagName}.${e.className} to ${e.getBoundingClientRect().right}`);
    return [
      `${document.scrollingElement.scrollWidth} px wide in ${width}: ` + out.slice(-3).join(', '),
    ];
  });
}

/** Text that is too small, cut off, or laid over other text's box at the present width. */
export function legible(page, least = 12) {
  return page.evaluate((min) => {
    const faults = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const text = walker.currentNode.data.trim();
      const e = walker.currentNode.parentElement;
      if (text === '' || !e.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true })) {
        continue;
      }
      const style = getComputedStyle(e);
      const size = parseFloat(style.fontSize);
      if (size < min) faults.push(`${size} px: ${text.slice(0, 40)}`);
      const cut = style.overflowX === 'hidden' || style.overflowX === 'clip';
      if (cut && e.clientWidth > 1 && e.scrollWidth > e.clientWidth + 1) {
        faults.push(`cut off: ${text.slice(0, 40)}`);
      }
    }
    const viewport = document.querySelector('meta[name=viewport]')?.content ?? '';
    if (!/width=device-width/.test(viewport)) faults.push('no viewport for phones');
    if (/user-scalable|maximum-scale/.test(viewport)) faults.push('zoom is held back');
    return [...new Set(faults)].slice(0, 10);
  }, least);
}

/** Puts text at twice its size, as a reader may (WCAG 1.4.4). */
export function enlarge(page, percent) {
  return page.evaluate((size) => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(`html { font-size: ${size}% !important }`);
    document.adoptedStyleSheets = [sheet];
  }, percent);
}

/** Goes through the page by Tab: every link and control must be reached once, in the order of the
 *  document, with a ring that can be seen, in a place that can be seen. Of a long page only the
 *  first `most` are walked. */
export function keyboard(page, most = 60) {
  return unseen(page, () => walk(page, most));
}

async function walk(page, most) {
  const wanted = await page.evaluate(() => {
    // Where an element was that had the focus and is gone, there Tab goes on.
    const start = document.createElement('span');
    start.tabIndex = -1;
    document.body.prepend(start);
    start.focus();
    start.remove();
    const all = [
      ...document.querySelectorAll(
        'a[href], button, input, select, textarea, summary, [tabindex="0"]',
      ),
    ].filter((e) => !e.disabled && e.type !== 'hidden' && e.checkVisibility());
    // Of a group of radio buttons Tab reaches one.
    const wantedOnes = all.filter(
      (e) =>
        e.type !== 'radio' ||
        e.checked ||
        (!all.some((o) => o.type === 'radio' && o.name === e.name && o.checked) &&
          all.find((o) => o.type === 'radio' && o.name === e.name) === e),
    );
    window.reached = [];
    window.reachFaults = [];
    document.removeEventListener('focusin', window.reaching); // an earlier walk's
    window.reaching = ({ target }) => {
      const name = `${target.tagName} ${target.textContent.trim().slice(0, 30)}`;
      window.reached.push(wantedOnes.indexOf(target));
      const style = getComputedStyle(target);
      if (
        (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) &&
        style.boxShadow === 'none' &&
        !(style.outlineStyle === 'auto')
      ) {
        window.reachFaults.push(`no ring: ${name}`);
      }
      const box = target.getBoundingClientRect();
      if (
        box.width < 1 ||
        box.height < 1 ||
        box.bottom <= 0 ||
        box.top >= innerHeight ||
        box.right <= 0 ||
        box.left >= innerWidth
      ) {
        window.reachFaults.push(`out of sight: ${name} ${JSON.stringify(box)}`);
      }
    };
    document.addEventListener('focusin', window.reaching);
    return wantedOnes.map((e) => `${e.tagName} ${e.textContent.trim().slice(0, 30)}`);
  });
  wanted.splice(most);
  for (let i = 0; i < wanted.length; i++) await page.keyboard.press('Tab');
  const { reached, faults } = await page.evaluate(() => ({
    reached: window.reached,
    faults: window.reachFaults,
  }));
  wanted.forEach((name, i) => {
    if (reached[i] !== i) faults.push(`Tab ${i + 1} reaches ${wanted[reached[i]]}, not ${name}`);
  });
  return faults.slice(0, 10);
}

/** What pages must not hold, read off their source: scripts and styles that a strict content
 *  security policy stops. */
export function inline(source) {
  const faults = [];
  const bare = source.replace(/<!--.*?-->/gs, '');
  for (const [tag] of bare.matchAll(/<script\b[^>]*>/gi)) {
    if (!/\ssrc=/.test(tag) && !/type="application\/ld\+json"/.test(tag)) faults.push(tag);
  }
  for (const [tag] of bare.matchAll(/<style\b[^>]*>/gi)) faults.push(tag);
  for (const [tag] of bare.matchAll(/<[a-z][^<>]*\s(?:style|on[a-z]+)\s*=[^>]*>/gi)) {
    faults.push(tag);
  }
  return faults;
}

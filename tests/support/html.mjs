// SPDX-License-Identifier: MIT
// Whether a page's source is valid HTML.
//
// Left to taste in html-validate.json: how the doctype, void elements, quotes and attributes without
// a value are written, which optional end tags are left out, blanks at the end of lines, and how
// long a title may be (it holds the event's name).

import { readFileSync } from 'node:fs';
import { HtmlValidate, StaticConfigLoader } from 'html-validate';

const config = JSON.parse(readFileSync(new URL('html-validate.json', import.meta.url), 'utf8'));
const validator = new HtmlValidate(new StaticConfigLoader(config));

/** What is wrong, as ADDRESS:LINE:COLUMN RULE: words. */
export async function faultsOf({ address, source }) {
  const report = await validator.validateString(source, address);
  return report.results
    .flatMap((result) => result.messages)
    .map((m) => `${address}:${m.line}:${m.column} ${m.ruleId}: ${m.message}`);
}

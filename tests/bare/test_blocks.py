# SPDX-License-Identifier: MIT
"""Every command of the documents that are run word for word can be found in them."""

import os
import unittest

import blocks
import runbook
from roots import ROOT


class BlocksTest(unittest.TestCase):
    def test_a_block_has_heading_machine_and_words(self):
        text = "# A\n\n```sh on first\nls  -l\n\ntrue\n```\n\n## B\n```text\nnot this\n```\n" \
               "- a point\n    goes on\n\n```sh on both\ncd\n```\n"
        self.assertEqual(blocks.blocks("x", text),
                         [("A", "first", 3, "ls  -l\n\ntrue\n"), ("B", "both", 16, "cd\n")])

    def test_what_might_be_passed_over_is_refused(self):
        for text, line in (("a\n\n    ls\n", 3), ("```\nls\n```\n", 1), ("```sh\nls\n```\n", 1),
                           ("```sh on first\nls\n", 1), ("```sh on First\nls\n```\n", 1)):
            with self.assertRaisesRegex(blocks.Malformed, f"^x:{line}: "):
                blocks.blocks("x", text)

    def test_the_documents_hold_what_the_stories_run(self):
        """Neither has a heading with commands that the other has not."""
        for story in runbook.STORIES:
            with open(os.path.join(ROOT, "deploy", story.document), encoding="utf-8") as file:
                found = blocks.blocks(story.document, file.read())
            self.assertEqual(sorted({block.heading for block in found}),
                             sorted(set(story.headings)), story.document)
            self.assertLessEqual({block.machine for block in found},
                                 {*story.machines, "both"}, story.document)


if __name__ == "__main__":
    unittest.main()

"""Slips in how YAML is written.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import Slip

TOOLS = "tools.yaml"
SOUND = Example(TOOLS, 'hammer: "soft hammer"')


class Broken(Slip):
    """A line that cannot be read as YAML: a quote or bracket left open, a line in the wrong column."""

    name = "yaml.broken"
    why = "From here on nobody can tell what belongs to what, so nothing of this file is used."
    wrong = Example(TOOLS, 'hammer: "soft hammer')
    right = SOUND


class Tab(Slip):
    """A tab at the start of a line."""

    name = "yaml.tab"
    why = "A tab is as wide as each editor likes, so nobody can tell what the line belongs to."
    wrong = Example("teardowns.yaml", 'bars-off:\n\tname: "bars off"\n\topen: 3\n\tclose: 4')
    right = Example("teardowns.yaml", 'bars-off:\n  name: "bars off"\n  open: 3\n  close: 4')


class Unseen(Slip):
    """A sign that nobody sees: a control character, a zero-width space."""

    name = "yaml.character"
    why = "Two words that look alike would be different ones, and nobody could see why they do not match."
    wrong = Example(TOOLS, 'hammer: "soft\u200bhammer"')
    right = SOUND


class Deep(Slip):
    """Brackets or lines nested deeper than anything in a rule file is."""

    name = "yaml.deep"
    why = "Nothing in the format is nested so deep; what stands there means nothing."
    wrong = Example(TOOLS, f'hammer: {"[" * 45}"soft hammer"{"]" * 45}')
    right = SOUND


class Alias(Slip):
    """A text that begins with a star, which YAML takes for another place's text."""

    name = "yaml.alias"
    why = "What stands here could then change with another line, and whoever changes that one would not know."
    wrong = Example(TOOLS, "hammer: *soft hammer")
    right = Example(TOOLS, 'hammer: "*soft hammer"')


class Anchor(Slip):
    """A text that begins with &, which YAML takes for a mark to be pointed at."""

    name = "yaml.anchor"
    why = "The word behind the sign would vanish from the text, and nothing here may point at another line anyway."
    wrong = Example(TOOLS, "hammer: &soft hammer")
    right = SOUND


class Tag(Slip):
    """A text that begins with !, which YAML takes for the name of a type."""

    name = "yaml.tag"
    why = "The word behind the sign would vanish from the text; and such a name can make a program run other code."
    wrong = Example(TOOLS, "hammer: !soft hammer")
    right = Example(TOOLS, 'hammer: "!soft hammer"')


class Documents(Slip):
    """A second document in one file, behind a line `---`."""

    name = "yaml.documents"
    why = "Only one of the two would be read."
    wrong = Example(TOOLS, '---\nhammer: "soft hammer"')
    right = SOUND


class Duplicate(Slip):
    """A key that stands twice in one place."""

    name = "yaml.duplicate"
    why = "Only one of the two could count, and whoever reads the other one is told something wrong."
    wrong = Example(TOOLS, 'hex-keys: "long hex keys"')
    right = Example(TOOLS, 'long-hex-keys: "long hex keys"')


class Key(Slip):
    """A list or a mapping where a key is wanted."""

    name = "yaml.key"
    why = "Nobody could name what stands behind it."
    wrong = Example(TOOLS, '[hammer]: "soft hammer"')
    right = SOUND

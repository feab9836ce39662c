"""Lines of keys in TOML files."""

from __future__ import annotations

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.toml_lines import line_of, toml_lines

TEXT = '''# a comment with [brackets] and = signs
title = "a # in a text" # and behind it
long = """
[[part]]
name = "not a key"
"""
dotted.key = 1
"quoted key" = 'a\\b'

[spacing] # kerf = 1
kerf = 0.2
when = 1979-05-27 07:32:00

[[part]]
drawing = "a.dxf"
rotations = [
    0,   # zero
    90, [1,
    2],
]

[[part]]
drawing = "b.dxf"
inline = { a = 1, b = [1, 2], "c" = { d = 3 } }
[part.extra]
x = 1

[[part.step]]
y = 1
[[part.step]]
y = 2
'''


def test_keys_tables_and_items_are_found():
    """Comments, texts over several lines and nested lists do not lead astray."""
    assert tomllib.loads(TEXT)
    lines = toml_lines(TEXT)
    wanted = {
        ("title",): 2,
        ("long",): 3,
        ("dotted", "key"): 7,
        ("quoted key",): 8,
        ("spacing",): 10,
        ("spacing", "kerf"): 11,
        ("spacing", "when"): 12,
        ("part", 0): 14,
        ("part", 0, "rotations"): 16,
        ("part", 0, "rotations", 1): 18,
        ("part", 0, "rotations", 2, 1): 19,
        ("part", 1): 22,
        ("part", 1, "inline", "c", "d"): 24,
        ("part", 1, "extra", "x"): 26,
        ("part", 1, "step", 1, "y"): 31,
    }
    assert {path: lines[path] for path in wanted} == wanted


def test_an_unknown_path_has_the_line_of_the_table_around_it():
    """A missing key is reported where its table begins."""
    assert line_of(toml_lines(TEXT), ("part", 1, "quantity")) == 22
    assert line_of(toml_lines(TEXT), ("nowhere",)) is None


@settings(deadline=None)
@given(st.text(alphabet="ab=[]{}\"'#,.\n 1", max_size=40))
def test_no_text_makes_it_fail(text):
    """Whatever the text, the scanner ends."""
    toml_lines(text)


names = st.text("abc", min_size=1, max_size=3)
values = st.recursive(
    st.integers(0, 9).map(str) | names.map(lambda s: f'"{s} # ] }}"') | st.just('"""\n[x]\n"""'),
    lambda inner: st.lists(inner, max_size=3).map(lambda v: "[" + ",\n # no\n".join(v) + "]"),
    max_leaves=5,
)


@settings(deadline=None)
@given(st.dictionaries(names, values, max_size=6))
def test_every_key_is_found_in_its_line(pairs):
    """Written one after another, each key is found where it was written."""
    text, wanted = "", {}
    for key, value in pairs.items():
        wanted[(key,)] = text.count("\n") + 1
        text += f"{key} = {value}\n"
    tomllib.loads(text)
    lines = toml_lines(text)
    assert {path: lines[path] for path in wanted} == wanted

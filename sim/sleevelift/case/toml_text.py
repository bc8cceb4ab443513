"""From a text to tables, as TOML reads them; what no case can be is refused before it is parsed.

    tables_of(text)  ->  dict        ValueError with the rule that the text breaks

The parser's time and memory grow with the square of the parts of a dotted key (200 kB of one take gigabytes), so parts and
values are counted first, in one pass over the text with strings and comments taken out.
"""

import re
import tomllib
from typing import Any

from sleevelift import units

MOST_VALUES = 30_000
"""values in a file: every list of the schema at its longest has fewer."""
DEEPEST_NESTING = 8
"""levels of tables and lists. A case has five."""
_TOO_DEEP = f"is nested deeper than {DEEPEST_NESTING} levels: no case is"
_TOO_MANY = f"has more than {MOST_VALUES} values: no case has"

_STRING_OR_COMMENT = re.compile(
    r'"""(?:[^\\]|\\.)*?(?:"""|\\?\Z)' r"|'''.*?(?:'''|\Z)" r'|"(?:[^"\\\n]|\\[^\n])*(?:"|\\?$)' r"|'[^'\n]*(?:'|$)" r"|\#[^\n]*",
    re.DOTALL | re.MULTILINE,
)
"""A string, also one that is not closed (it counts to where it must end), or a comment: each letter is looked at once."""
_PART = r"[^\s.=,\[\]{}]++"
_LONG_KEY = re.compile(rf"(?<![^\s.=,\[\]{{}}]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{DEEPEST_NESTING},}}")
"""A key of more parts than a case has levels, strings taken out."""

_TABLE_LINE = re.compile(r"^[ \t]*+\[", re.MULTILINE)


def tables_of(text: str) -> dict[str, Any]:
    """The tables of a text. ValueError with the rule that it breaks, to be put behind the file's name."""
    refused = refused_unparsed(text)
    if refused is not None:
        raise ValueError(refused)
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"is no TOML: {units.shown(str(error), 200)[1:-1]}") from None
    except RecursionError:
        raise ValueError(_TOO_DEEP) from None
    except ValueError as error:
        raise ValueError(f"is no TOML: {units.shown(str(error), 80)[1:-1]}") from None
    if _deeper_than(raw, DEEPEST_NESTING):
        raise ValueError(_TOO_DEEP)
    if _count(raw) > MOST_VALUES:
        raise ValueError(_TOO_MANY)
    return raw


def refused_unparsed(text: str) -> str | None:
    """Why a text is no case, as far as can be seen without parsing it; None if nothing is seen."""
    bare = _STRING_OR_COMMENT.sub(lambda found: "" if found[0][0] == "#" else "q", text)
    if _LONG_KEY.search(bare):
        return _TOO_DEEP
    # each sign, and each line with a table's name, stands for a value or a table of its own
    if max(bare.count("="), bare.count(","), len(_TABLE_LINE.findall(bare))) > MOST_VALUES:
        return _TOO_MANY
    return None


def _deeper_than(value: Any, levels: int) -> bool:
    """True where tables and lists nest deeper than this."""
    inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return any(levels == 0 or _deeper_than(part, levels - 1) for part in inside)


def _count(value: Any) -> int:
    """Values in tables and lists, the tables and lists counted too."""
    inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return len(inside) + sum(_count(part) for part in inside if isinstance(part, dict | list))

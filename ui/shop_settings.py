"""What a shop prints on its sheets: name, rates, and the rules that it has entered with their sources."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from threading import Lock
from types import MappingProxyType

from graph.errors import Conflict, UsageError
from ui.printed import Logo

RULES = ("law", "insurance", "warranty", "overrun")
_TEXT = ("name", "address", "currency", "logo")
#: Endings of a logo's file, and the most bytes that it may have.
LOGO_FORMS, LOGO_BYTES = (".svg", ".png", ".jpg"), 500_000
_WRITING = Lock()  # from the look at the file to its replacement


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule that the shop states, and where it comes from."""

    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopSettings:
    """A shop as its sheets show it.

    Parameters
    ----------
    name, address : str
        As printed.
    currency : str
        ISO code.
    tax : float
        Share added to the net price [1].
    hourly_rate : float
        Net price of an hour of labour [currency per 3600 s of labour].
    logo : str
        File of the shop's mark (.svg, .png or .jpg), as a path from the settings' own folder; empty for none.
    overrun : float
        Least room between an offer and the most that its bill may reach without a new signature [1]; what jobs cost in
        the end may ask for more.
    deposit : float
        Share of the total due with the order [1].
    valid_days : int
        Days for which prices hold.
    price_rise : float
        Most by which parts prices may rise after that [1].
    oil_distance, check_distance : float or None
        Distance between oil changes, and to the first check [km]; None prints nothing.
    warm_oil : float or None
        Oil temperature from which full power may be used [degC].
    rules : mapping of str to Rule
        Of :data:`RULES`; what is missing is printed as not checked.
    """

    name: str
    address: str = ""
    currency: str = "EUR"
    logo: str = ""
    tax: float = 0.20
    hourly_rate: float = 95.0
    overrun: float = 0.10
    deposit: float = 0.30
    valid_days: int = 30
    price_rise: float = 0.05
    oil_distance: float | None = None
    check_distance: float | None = None
    warm_oil: float | None = None
    rules: Mapping[str, Rule] = field(default_factory=lambda: MappingProxyType({}))


def read_shop(path: Path) -> ShopSettings:
    """Settings of a shop from a TOML file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    ShopSettings
        As entered; what the file leaves out has its default.

    Raises
    ------
    UsageError
        The file cannot be read, or an entry is unknown, of the wrong kind or out of range.
    """
    try:
        read = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(f"{path}: the shop's settings cannot be read: {error}") from error
    known = {f.name for f in fields(ShopSettings)}
    if "name" not in read:
        raise UsageError(f'{path}: found no name of the shop; add a line such as name = "My Workshop"')
    for key, value in read.items():
        if key not in known:
            raise UsageError(f"{path}: found {key!r}; known are {', '.join(sorted(known))}")
        if key in _TEXT:
            if not isinstance(value, str):
                raise UsageError(f"{path}: {key}: found {value!r}; expected is a text in quotes")
        elif key != "rules" and (isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e6):
            raise UsageError(f"{path}: {key}: found {value!r}; expected is a number that is not negative")
        if key in ("tax", "overrun", "deposit", "price_rise") and value > 1:
            raise UsageError(f"{path}: {key}: found {value!r}; expected is a share, such as 0.20 for 20 %")
    rules = read.pop("rules", {})
    if read.get("logo"):
        read["logo"] = str(path.parent.resolve() / read["logo"])
    return ShopSettings(**read, rules=MappingProxyType(_rules(path, rules)))


def read_logo(settings: ShopSettings) -> Logo | None:
    """The shop's mark as a sheet shows it.

    Parameters
    ----------
    settings : ShopSettings
        Of the shop.

    Returns
    -------
    Logo or None
        None where the shop has named none.

    Raises
    ------
    UsageError
        The file cannot be read, is too large, or is no such picture.
    """
    if not settings.logo:
        return None
    path = Path(settings.logo)
    if path.suffix.lower() not in LOGO_FORMS:
        raise UsageError(f"logo: found {path.name!r}; expected is a file that ends in {', '.join(LOGO_FORMS)}")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise UsageError(f"logo: {path} cannot be read: {error.strerror}; correct it in the shop's settings") from error
    if len(data) > LOGO_BYTES:
        raise UsageError(f"logo: {path.name} has {len(data)} bytes; at most {LOGO_BYTES} are allowed, make it smaller")
    if not data.lstrip().startswith((b"<svg", b"<?xml", b"\x89PNG", b"\xff\xd8")):
        raise UsageError(f"logo: {path.name} is no SVG, PNG or JPEG picture; save it anew in one of these forms")
    return Logo(form=path.suffix.lower()[1:], data=data, alternative=settings.name)


def write_logo(folder: Path, form: str, data: bytes, name: str) -> Path:
    """Keep the shop's mark beside its settings, under a name of ours; the one before is kept if this one is no picture.

    Parameters
    ----------
    folder : Path
        Of the settings.
    form : str
        Ending of the file as it was given.
    data : bytes
        The picture.
    name : str
        Of the shop.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UsageError
        It is too large or no such picture, or cannot be written.
    """
    draft, kept = folder / f"new logo{form}", folder / f"logo{form}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        draft.write_bytes(data)
        read_logo(ShopSettings(name=name, logo=str(draft)))
        draft.replace(kept)
    except OSError as error:
        raise UsageError(f"logo: {kept} cannot be written: {error.strerror}") from error
    finally:
        draft.unlink(missing_ok=True)
    return kept


def _rules(path: Path, read: object) -> dict[str, Rule]:
    if not isinstance(read, dict):
        raise UsageError(f"{path}: rules: expected is a table with {', '.join(RULES)}")
    found = {}
    for name, entry in read.items():
        if name not in RULES:
            raise UsageError(f"{path}: rules: found {name!r}; known are {', '.join(RULES)}")
        if not isinstance(entry, dict) or not all(
            isinstance(entry.get(k), str) and entry[k] for k in ("text", "source")
        ):
            raise UsageError(f"{path}: rules.{name}: a rule needs a text and its source, both in quotes")
        found[name] = Rule(text=entry["text"], source=entry["source"])
    return found


def state_of(path: Path) -> str:
    """State of a settings file, for :func:`write_shop`: its digest, or nothing where there is no file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    str
        Equal for the same content.
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def write_shop(path: Path, settings: ShopSettings, *, seen: str | None = None) -> None:
    """Write the settings of a shop into a TOML file, and read them back before the old file is replaced.

    Parameters
    ----------
    path : Path
        The file; its folder is made if it is missing.
    settings : ShopSettings
        What to write.
    seen : str or None
        State of the file that the editor saw; None does not ask.

    Raises
    ------
    Conflict
        Somebody changed the file since; nothing is written.
    UsageError
        An entry is out of range, or the file cannot be written.
    """
    lines = []
    for f in fields(ShopSettings):
        value = getattr(settings, f.name)
        if f.name != "rules" and value is not None:
            lines.append(f"{f.name} = {_toml(value)}")
    for name, rule in settings.rules.items():
        lines += ["", f"[rules.{name}]", f"text = {_toml(rule.text)}", f"source = {_toml(rule.source)}"]
    draft = path.with_name(path.name + ".new")
    with _WRITING:
        if seen is not None and state_of(path) != seen:
            raise Conflict(
                f"somebody changed the shop's settings in {path} since you opened them; nothing was overwritten: "
                "open the page again and enter your change"
            )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            draft.write_text("\n".join(lines) + "\n", encoding="utf-8")
            read_shop(draft)
            draft.replace(path)
        except OSError as error:
            raise UsageError(f"{path}: the shop's settings cannot be written: {error.strerror}") from error
        finally:
            draft.unlink(missing_ok=True)


def _toml(value: object) -> str:
    """A text or number as TOML writes it; JSON's quoted text is a TOML basic string."""
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)

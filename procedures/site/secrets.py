"""PINs: hashed, in a file of their own on each station, and never anywhere else.

No PIN and no hash is in the journal, in a crash file, in an export or in a message. Wrong tries are counted here and
recorded in the journal; each makes the next one wait longer. Another station has no PIN of a person until it is set
there.
"""

from __future__ import annotations

import hashlib
import hmac
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from procedures.clock import Instant
from procedures.journal.moments import utc_moment, utc_text
from procedures.readiness import zone_of
from procedures.site import lookups, naming, secrets_file
from procedures.site.opening import Site
from procedures.site.secrets_file import Kept
from procedures.trouble import Trouble

FEWEST_DIGITS: Final = 4
MOST_DIGITS: Final = 12
SHORTEST_PHRASE: Final = 10
LONGEST_PHRASE: Final = 128
ALLOWED: Final = (
    f"{FEWEST_DIGITS} to {MOST_DIGITS} digits, or a phrase of {SHORTEST_PHRASE} to {LONGEST_PHRASE} characters"
)

LONGEST_WAIT: Final = 3600
"""Seconds. However often somebody tried, the right person can try again within the hour."""

SALT_BYTES: Final = 16

TELLING: Final = 5
"""Characters of a name or badge from which on a phrase that holds it is easily guessed."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a hash costs (RFC 7914): n is the cost in memory and time, r the size of a block, p how often."""

    n: int = 1 << 15
    r: int = 8
    p: int = 1


ABOUT_100_MS: Final = Cost()
"""Takes 32 MiB and some 100 ms on a laptop: nothing for a person, much for a program that tries them all."""


def pins_wanted(site: Site) -> bool:
    """Whether the site asks for PINs. Anything but a plain "off" means that it does."""
    return site.settings()["pins"] != "off"


def has_pin(site: Site, person: str) -> bool:
    """Whether this person has a PIN on this station."""
    return person in secrets_file.read(site)


def having_pins(site: Site) -> frozenset[str]:
    """Everybody who has a PIN on this station."""
    return frozenset(secrets_file.read(site))


def set_pin(
    site: Site,
    person: str,
    pin: str,
    *,
    salt: bytes,
    by: str = "",
    by_pin: str = "",
    cost: Cost = ABOUT_100_MS,
) -> None:
    """Set a person's PIN on this station; `salt` are random bytes from outside, never used before.

    `by` is present with their own PIN: a lead, or the person who changes theirs. Only where no lead has a PIN on this
    station yet may a lead set their own without. The journal says who did it. Raises Trouble with what is in the way.
    """
    if len(salt) < SALT_BYTES:
        raise ValueError(f"a salt has {SALT_BYTES} random bytes or more")
    known = lookups.person(site, person)
    if not lookups.roles(site, person):
        raise Trouble(
            "nobody on the list is meant",
            allowed="a person on the list",
            do="Name somebody on the site's list of people.",
        )
    _may_set(site, person, by, by_pin)
    line = well_chosen(pin, (known.label, known.name, known.initials))
    made = Kept(salt.hex(), _digest(line, salt, cost).hex(), cost.n, cost.r, cost.p)
    with secrets_file.alone(site) as kept:
        secrets_file.write(site, {**kept, person: made})
    how = "with a lead's or their own PIN" if by else "without any, as no lead had one on this laptop"
    site.record("note", {"text": f"A PIN was set on this laptop, {how}."}, about=(person,), person=by or person)


def _may_set(site: Site, person: str, by: str, by_pin: str) -> None:
    if by:
        if by != person and "lead" not in lookups.roles(site, by):
            raise Trouble(
                "only a site lead sets another person's PIN",
                allowed="a site lead, or one's own PIN",
                do="Ask the site lead to be present.",
            )
        check_pin(site, by, by_pin)
        return
    if not _no_lead_has_one(site):
        raise Trouble(
            "a PIN is set with a lead present, who gives theirs",
            allowed="a lead's PIN; to change one's own, the one that was valid until now",
            do="Ask the site lead to be present.",
        )
    if not first_may_begin(site, person):
        raise Trouble(
            "no lead has a PIN on this laptop yet", allowed="the lead's first", do="Set the lead's PIN first."
        )


def first_may_begin(site: Site, person: str) -> bool:
    """Whether this person's PIN may be set with nobody's: they are a lead, and no lead has one on this station."""
    return _no_lead_has_one(site) and "lead" in lookups.roles(site, person)


def _no_lead_has_one(site: Site) -> bool:
    return not any("lead" in lookups.roles(site, each) for each in secrets_file.read(site))


def check_pin(site: Site, person: str, pin: str) -> None:
    """Return when this is the person's PIN on this station, else raise Trouble.

    A wrong one is recorded, and the next try has to wait: 2 s, then 4 s, 8 s and so on up to an hour, by the site's
    clock. While it waits not even the right one is looked at. Tries of several programs come one after the other.
    """
    now = site.clock.now()
    with secrets_file.alone(site) as kept:
        known = kept.get(person)
        if known is None or not lookups.roles(site, person):
            raise Trouble(
                "this person has no PIN on this laptop",
                allowed="a PIN that was set here; those of other laptops are not known here",
                do="Set one with a lead present: Records, People, the person, Set a PIN.",
            )
        _not_too_early(site, kept, person, now)
        tries = known.tries + 1
        # Counted before it is looked at: a program that is killed in between gained no try.
        secrets_file.write(site, {**kept, person: known.refused(tries, utc_text(now.utc), now.ticks, now.session)})
        if _is_it(known, pin):
            secrets_file.write(site, {**kept, person: known.forgiven()})
            return
    wait = wait_after(tries)
    site.record("pin-refused", {"who": person, "tries": tries, "wait": wait}, about=(person,))
    raise Trouble(
        f"that is not the PIN of {naming.name(site, person)}; the next try is taken in {_said(wait)}",
        allowed="the PIN that was set on this laptop",
        do="Wait, then enter it again.",
    )


def wait_after(tries: int) -> int:
    """Seconds to wait after so many wrong tries in a row: 2, 4, 8 … up to LONGEST_WAIT."""
    return min(1 << min(tries, 20), LONGEST_WAIT) if tries > 0 else 0


def _not_too_early(site: Site, kept: Mapping[str, Kept], person: str, now: Instant) -> None:
    """Raises Trouble while the wait after a wrong try is not over: by the wall clock, and by ticks where they compare.

    A wall clock that was set back begins the wait anew, so that a clock once far ahead shuts nobody out for years.
    """
    known = kept[person]
    if not known.tries:
        return
    last = utc_moment(known.at)
    if now.utc < last:
        known = known.refused(known.tries, utc_text(now.utc), now.ticks, now.session)
        secrets_file.write(site, {**kept, person: known})
        last = now.utc
    wait = wait_after(known.tries)
    passed = (now.utc - last).total_seconds()
    if known.session == now.session:
        passed = min(passed, now.ticks - known.ticks)
    if passed < wait:
        when = _local(site, now.utc + timedelta(seconds=wait - passed))
        raise Trouble(
            f"after {known.tries} wrong {'try' if known.tries == 1 else 'tries'} the next one is taken at {when}",
            allowed="the next try at that time",
            do="Wait until then.",
        )


def _local(site: Site, moment: datetime) -> str:
    # Up to the next second: who comes at the time that was said is not too early.
    up = moment + timedelta(microseconds=-moment.microsecond % 1_000_000)
    return up.astimezone(zone_of(site.settings()["zone"])).strftime("%H:%M:%S on %Y-%m-%d")


def _said(seconds: int) -> str:
    return f"{seconds} s" if seconds < 120 else f"{seconds // 60} min"


def _is_it(known: Kept, pin: str) -> bool:
    line = _line(pin)
    if not line.isprintable() or len(line) > LONGEST_PHRASE:
        return False
    made = _digest(line, bytes.fromhex(known.salt), Cost(known.n, known.r, known.p))
    return hmac.compare_digest(made, bytes.fromhex(known.hash))


def _digest(line: str, salt: bytes, cost: Cost) -> bytes:
    """scrypt (RFC 7914) of the PIN in UTF-8, 32 bytes."""
    room = 256 * cost.r * (cost.n + cost.p)
    return hashlib.scrypt(line.encode(), salt=salt, n=cost.n, r=cost.r, p=cost.p, maxmem=room, dklen=32)


def _line(pin: str) -> str:
    """The PIN in one form, however the keyboard composes its characters."""
    return unicodedata.normalize("NFKC", pin).strip()


# --- what may be a PIN ---------------------------------------------------------------------------------------------


def well_chosen(pin: str, about: tuple[str, ...] = ()) -> str:
    """The PIN as it is hashed. Raises Trouble when it is too short, or easily guessed; `about` is what a badge says.

    The message never repeats what was entered.
    """
    line = _line(pin)
    digits = line.isascii() and line.isdigit()
    least, most = (FEWEST_DIGITS, MOST_DIGITS) if digits else (SHORTEST_PHRASE, LONGEST_PHRASE)
    if not least <= len(line) <= most or not line.isprintable():
        raise Trouble("that cannot be a PIN", allowed=ALLOWED, do="Choose another one.")
    weak = _weak(line.casefold(), digits, tuple(_plain(each) for each in about))
    if weak:
        raise Trouble(f"that PIN is guessed at once: {weak}", allowed=ALLOWED, do="Choose another one.")
    return line


def _weak(line: str, digits: bool, about: tuple[str, ...]) -> str:
    """Why a PIN is guessed at once; "" when it is not."""
    if len(set(line)) < 3:
        return "it has fewer than three different characters"
    if any(line == (line[:size] * len(line))[: len(line)] for size in range(1, len(line) // 2 + 1)):
        return "it repeats itself"
    steps = {ord(after) - ord(before) for before, after in pairwise(line)}
    if len(steps) == 1 or (digits and len({step % 10 for step in steps}) == 1):
        return "it goes on in equal steps"
    if digits and len(line) == 4 and line[:2] in ("19", "20"):
        return "it may be a year"
    plain = _plain(line)
    if any(plain in each or (len(each) >= TELLING and each in plain) for each in about if each):
        return "it is on the badge"
    return ""


def _plain(text: str) -> str:
    return "".join(c for c in text.casefold() if c.isalnum())

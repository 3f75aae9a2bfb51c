"""Words in which a restorer says in what state a part is, at the end of its line: leaking, replaced 1972."""

import re


def _words(text: str) -> frozenset[str]:
    """Words and phrases parted by commas."""
    return frozenset(" ".join(each.split()) for each in text.split(","))


_STATES = _words("""
    missing, absent, gone, empty, original, ok, okay, good, fine, bad, faulty, defective, untested, tested, tested
    good, tested ok, tested fine, tested bad, tested weak, suspect, doubtful, unknown, illegible, unreadable,
    faded, dirty, oily, leaking, leaky, leaks, leakage, leaking oil, cracked, cracks, cracked in half, cracked in
    two, broken, broken in two, broken off, smashed, snapped, burst, exploded, blown, vented, bulging, bulged,
    swollen, open, open circuit, o/c, s/c, shorted, short, short circuit, burnt, burned, burnt out, burned out,
    charred, scorched, cooked, toasted, discoloured, discolored, hums, humming, buzzes, noisy, scratchy, crackles,
    crackly, rattles, intermittent, dead, weak, tired, gassy, microphonic, no emission, low emission, white top,
    air leak, lost its vacuum, loose, wobbly, corroded, rusty, rusted, sticky, gummy, perished, stretched, hard,
    hardened, glazed, worn, worn out, stiff, seized, stuck, frozen, dry, dried, dried out, drifted, drifted high,
    drifted low, high, low, runs hot, gets hot, hot, smells, smells burnt, lead broken, lead off, leads off, one
    leg off, wire off, rewound, repaired, bypassed, disconnected, removed, bridged, replaced, renewed, changed,
    recapped, needs replacing, needs replacement, to be replaced, to replace, torn, cone torn, taub, defekt,
    kaputt, fehlt, undicht, verbrannt, ausgelaufen, gebrochen, ersetzt, unterbrochen, kurzschluss, brummt, claqué,
    coupé, coupée, manquant, hs, grillé, fuit, remplacé, gonflé, guasto, mancante, bruciato, perde, sostituito,
    interrotto, gonfio, неисправен, нет, вздулся, течёт, обрыв, сгорел, пробит""")
_QUALIFIERS = _words("""
    not, badly, slightly, very, quite, rather, partly, completely, probably, possibly, half, one, both, all, is,
    was, has, looks, seems, end, ends, lead, leads, case, body, seal, seals, glass, base, bulb, getter, heater,
    winding, primary, secondary, wire, wires, stark, leicht, primär, sekundär, un, peu, molto, très""")
_JOINING = (",", "-", "and", "but", "is", "are", "looks", "it", "und", "et", "e", "и")
_YEAR = re.compile(r"(?:in |by |about |ca\.? |um )?(?:19|20)\d\d")
_DONE = ("replaced", "renewed", "changed", "recapped", "rewound", "repaired", "fitted", "ersetzt", "remplacé",
         "sostituito", "заменён")
_LONGEST = 5


def state_said(words: list[str]) -> tuple[list[str], str]:
    """Return the words before, and those at the end that say in what state a part is; one word at least stays."""
    end = len(words)
    while end > 1:
        size = next((n for n in range(min(_LONGEST, end - 1), 0, -1) if _is_state(words[end - n : end])), 0)
        if not size:
            break
        end -= size
        while end > 1 and words[end - 1].lower() in _JOINING:
            end -= 1
    before = words[:end]
    if before and end < len(words):
        before[-1] = before[-1].rstrip(",;")
    return before, " ".join(words[end:]).strip(" ,;()-")


def _is_state(words: list[str]) -> bool:
    plain = [word.strip(",;()").lower() for word in words]
    if plain[0] in _DONE and _YEAR.fullmatch(" ".join(plain[1:])):
        return True
    while len(plain) > 1 and plain[0] in _QUALIFIERS and " ".join(plain) not in _STATES:
        plain = plain[1:]
    return " ".join(plain) in _STATES

"""The codes of findings: stable names for everything that can be said about a scene.

Other people's scripts may rely on a code and its severity. Each has a row in
``docs/guide/findings.md`` and a file in ``scenes/broken`` that shows it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

from treatment.errors import Finding, Severity

_ERRORS = {
    "file-missing": "There is no such file, and no shipped scene of that name.",
    "file-is-directory": "A folder was given where a scene file was expected.",
    "file-unreadable": "The file exists, but the system refuses to read it.",
    "file-empty": "The file holds nothing.",
    "file-too-large": "The file is larger than any scene is (5 MB).",
    "file-not-text": "The file is no text in UTF-8.",
    "toml-syntax": "The text breaks the rules of TOML.",
    "unknown-key": "A key that a scene does not have; most often misspelt.",
    "missing-key": "A key that is needed is not there.",
    "wrong-type": "A value of the wrong kind: text for a number, one table for several.",
    "length-unreadable": "A length that cannot be read.",
    "number-not-finite": "A number that is infinite or not a number.",
    "number-out-of-range": "A number below or above what is possible there.",
    "wrong-number-of-values": "A place or size with too few or too many numbers.",
    "size-not-positive": "A size that is zero or negative.",
    "unit-unknown": "The unit of plain numbers is none of m, cm, mm, ft, in.",
    "room-shape-unknown": "A room shape that cannot be read.",
    "name-not-printable": "A name that is empty or holds signs that cannot be printed.",
    "name-too-long": "A name longer than 60 signs: it fits no drawing.",
    "duplicate-name": "Two things share a name that must tell them apart.",
    "wrong-number-of-bands": "A material without exactly eight coefficients.",
    "absorption-out-of-range": "An absorption coefficient below 0 or above 1.3.",
    "scattering-out-of-range": "A scattering coefficient below 0 or above 1.",
    "air-out-of-range": "Air that is no air of a living room.",
    "keep-out-reason-unknown": "A reason for a keep-out that is not known.",
    "build-place-unknown": "A place for a panel that is not known.",
    "build-invalid": "A panel build that contradicts itself.",
    "unknown-build": "The list of panels names a build that does not exist.",
    "target-use-unknown": "A use of the room for which no published range is known.",
    "data-sheet": "A folder of data sheets, or a table in it, that cannot be used.",
    "directivity-unclear": "A loudspeaker whose way of radiating contradicts itself or lacks numbers.",
    "budget-not-positive": "A budget of nothing or less.",
    "limit-invalid": "A limit of a plan that is none.",
    "stock-invalid": "A trade, or a size of what the shops sell, that cannot be.",
    "price-file": "A file of prices that cannot be used.",
    "unknown-surface": "A surface name that the room does not have.",
    "unknown-material": "A material that is neither in the library nor in the file.",
    "surface-without-material": "A surface has no material, and there is no default.",
    "plan-too-few-corners": "A floor plan with fewer than three corners.",
    "plan-too-many-corners": "A floor plan with more than 200 corners.",
    "ceiling-heights-count": "More or fewer ceiling heights than corners.",
    "ceiling-valley": "Heights at corners that would need a valley in the ceiling.",
    "ceiling-slope-unclear": "A slope that its keys do not fix.",
    "ceiling-below-floor": "A ceiling that reaches below the floor.",
    "opening-material-unclear": "An opening with both a material and an absorption, or with neither.",
    "object-unclear": "An object whose absorption is not given, or given twice.",
    "objects-fill-room": "Objects that displace more than half of the room.",
    "mesh-missing": "The mesh file that the room names is not there.",
    "mesh-unreadable": "A mesh file that cannot be read.",
    "mesh-too-large": "A mesh of more than 200 000 faces, or a file of more than 100 MB.",
    "mesh-axis-unknown": "An axis of a mesh that is none of x, y, z, -x, -y, -z.",
    "mesh-axes-parallel": "The upward and the forward axis of a mesh lie in one line.",
    "mesh-origin-unknown": "An origin of a mesh that is not known.",
    "mesh-hole": "A hole in a mesh: it encloses no air.",
    "mesh-edge-shared": "An edge of a mesh where more than two faces meet.",
    "mesh-several-shells": "A mesh of several bodies.",
    "mesh-self-intersecting": "Faces of a mesh that cut through each other.",
    "mesh-one-sided": "A mesh whose faces have no inside, like a twisted ribbon.",
    "mesh-flat": "A mesh that encloses no volume.",
    "mesh-faces-overlap": "Faces of a mesh that lie on each other in one plane.",
    "plan-duplicate-corner": "A floor plan that names a corner twice: a wall of no length.",
    "plan-self-crossing": "A floor plan whose walls cross or touch each other.",
    "plan-names-count": "A floor plan with more or fewer wall names than walls.",
    "size-looks-like-millimetres": "A room beyond 100 m: millimetres or centimetres typed as metres.",
    "size-looks-too-small": "A room narrower than half a metre: metres typed as a smaller unit.",
    "obstacle-too-thin": "An obstacle thinner than 20 mm: too thin to be a solid of its own.",
    "obstacle-outside-room": "An obstacle reaches out of the room.",
    "obstacle-divides-room": "An obstacle cuts the room in two.",
    "obstacle-fills-room": "The obstacles fill more than half of the room.",
    "obstacles-overlap": "Two obstacles share space.",
    "recess-unclear": "A recess of an unknown kind, or with keys that do not go together.",
    "recess-too-small": "A recess narrower, lower or shallower than 20 mm.",
    "recess-too-deep": "A recess deeper than 10 m: millimetres or inches typed as metres or feet.",
    "recess-outside-surface": "A recess reaches over the edge of its surface.",
    "recesses-overlap": "Two recesses of a surface share a part of it.",
    "recesses-meet": "Two recesses run into each other behind their surfaces.",
    "recess-into-room": "A recess that leads back into the room, or through another wall.",
    "dormer-not-on-slope": "A dormer in a surface that does not slope, or with a roof as steep as the slope.",
    "opening-over-recess": "An opening reaches over the mouth of a recess.",
    "keep-out-over-recess": "A keep-out reaches over the mouth of a recess.",
    "opening-outside-surface": "An opening reaches over the edge of its surface.",
    "opening-behind-obstacle": "An opening lies behind an obstacle that touches the surface.",
    "openings-overlap": "Two openings of a surface share area.",
    "structure-unclear": "A framing or a tile grid that its surface cannot have.",
    "keep-out-outside-surface": "A keep-out reaches over the edge of its surface.",
    "seat-outside-room": "A seat is not in the room.",
    "seat-inside-obstacle": "A seat is inside an obstacle.",
    "seat-spread-outside-room": "The area a head may be in reaches out of the room.",
    "loudspeaker-outside-room": "A loudspeaker is not in the room.",
    "loudspeaker-inside-obstacle": "A loudspeaker is inside an obstacle.",
    "loudspeaker-at-seat": "A loudspeaker stands where a head is.",
    "screen-outside-surface": "The screen reaches over the edge of its surface.",
    "screen-beyond-seat": "The screen stands behind a seat.",
    "subwoofer-outside-room": "A subwoofer is not in the room.",
    "subwoofer-inside-obstacle": "A subwoofer is inside an obstacle.",
}

_WARNINGS = {
    "size-looks-like-feet": "A size beyond any small room: feet typed as metres, or inches as feet.",
    "size-looks-like-metres": "A room lower than anybody stands in: metres typed as feet.",
    "near-cube": "A box room with three sides of nearly one length: its modes coincide.",
    "no-seats": "No seat: nothing can be said about reflections or bass.",
    "no-loudspeakers": "No loudspeaker: nothing can be said about reflections.",
    "channel-unknown": "A channel label that is none of ITU-R BS.2051.",
    "screen-hides-loudspeaker": "A loudspeaker behind a screen that lets no sound pass.",
    "screen-blocked": "Something stands between a seat and the screen.",
    "weights-all-zero": "Every loudspeaker, or every seat, has the weight 0: no reflection counts.",
    "limits-leave-nothing": "Limits that no panel can meet.",
    "obstacle-gap": "An obstacle stands a few millimetres off a surface: most likely it touches.",
    "recess-deep": "A recess deeper than 1.5 m: inches typed as feet, or a space of its own.",
    "recess-gap": "A recess that ends a few millimetres off its surface's edge: most likely it reaches it.",
    "ceiling-part-unused": "A part of the ceiling that is nowhere the lowest.",
    "ceiling-folds": "Heights at corners that lie in no plane: the ceiling folds between them.",
    "mesh-detailed": "A mesh with very many planar surfaces: computing takes long.",
    "positions-coincide": "Two seats, or two loudspeakers, are at one place.",
    "seats-too-close": "Two heads nearer to each other than shoulders are wide.",
}

_NOTES = {
    "room-small": "A room below 8 m3: the models of reverberation hold badly.",
    "room-large": "A room above 500 m3: the published ranges for small rooms end before.",
    "recess-shallow": "A recess shallower than a hand: sound hardly notices it, the model does.",
    "plan-clockwise": "The corners ran clockwise; they were read the other way round.",
    "plan-straight-corner": "A corner in a straight run of wall: two surfaces in one plane.",
    "plan-origin": "The floor plan does not begin at the front-left corner.",
    "ceiling-not-quite-flat": "Heights at corners that differ a little from a plane.",
    "obstacle-cut": "An obstacle that a sloping ceiling cuts.",
    "coupled-space": "A passage to another space: it counts as absorption, the space beyond is left out.",
    "mesh-mended": "Something in a mesh was mended.",
    "mesh-curved": "Curved parts of a mesh stay flat facets.",
    "near-surface": "A seat, loudspeaker or subwoofer is less than 0.05 m from a surface.",
    "seat-at-half-length": "A seat at half the length of a box room: the null of the first mode.",
    "seat-at-back-wall": "A seat less than 0.3 m from the wall behind it.",
    "electrical-depth-small": "An electrical keep-out with less than the usual working space.",
    "bands-assumed": "Materials in use have bands without a published value.",
    "sources-disagree": "Published rows for a material in use lie far apart.",
    "coefficient-above-one": "A material in use has a coefficient above 1.",
    "replaces-shipped": "A material or build of the file has the name of a shipped one and replaces it.",
}


#: Severity and meaning of every code.
CODES: Final[Mapping[str, tuple[Severity, str]]] = MappingProxyType(
    {
        **{code: ("error", meaning) for code, meaning in _ERRORS.items()},
        **{code: ("warning", meaning) for code, meaning in _WARNINGS.items()},
        **{code: ("note", meaning) for code, meaning in _NOTES.items()},
    }
)


def finding(code: str, where: str, message: str, hint: str = "") -> Finding:
    """Make a finding with the severity of its code.

    Parameters
    ----------
    code : str
        One of `CODES`.
    where : str
        Key path.
    message : str
        What is wrong, the value as understood, the limit.
    hint : str
        What to do.

    Returns
    -------
    Finding
        Without a line; the loader adds it.
    """
    return Finding(code=code, severity=CODES[code][0], where=where, message=message, hint=hint)


def nearest(word: str, known: Iterable[str]) -> str:
    """Say which known word was most likely meant.

    Parameters
    ----------
    word : str
        As typed.
    known : iterable of str
        What it may be.

    Returns
    -------
    str
        ``did you mean "x"?``, or the list of known words when none is near.
    """
    words = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(word[:80].casefold(), words, n=2, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{words[c]}"' for c in close) + "?"
    listed = list(words.values())
    more = f" and {len(listed) - 15} more" if len(listed) > 15 else ""
    return f"known are {', '.join(listed[:15])}{more}" if listed else ""

"""What a worker keeps of the drafts of a drawing, so that a change works out only what is new.

Plans that share material, machine and tables share a memory; what follows from lines and offsets
alone they share over materials and machines too.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import fields
from functools import partial
from typing import Final

from kerfwright.app.records import UNSHAPING, VARYING, JobRequest
from kerfwright.planning.memory import Memory
from kerfwright.trade.part import Part

_Stamp = tuple[tuple[str, int], ...]
_Memories = OrderedDict[tuple[str, Part], tuple[Memory, int]]
_MOST_MEMORIES: Final = 3
_MOST_USES: Final = 40
_memories: _Memories = OrderedDict()
_shapes: _Memories = OrderedDict()
"""Lines that drafts by other materials and machines have in common."""


def memory_of(request: JobRequest, part: Part, stamp: _Stamp) -> Memory:
    """Return what earlier drafts worked out that this one may need too.

    Parameters
    ----------
    request : JobRequest
    part : Part
        Its drawing.
    stamp : tuple of (str, int)
        When the shop's own files changed last.
    """
    if request.tapers or part.solid is not None:
        # What a leaning wire does is no part of what plans have in common.
        return Memory()
    fixed = {f.name: getattr(request, f.name) for f in fields(request) if f.name not in VARYING}
    key = repr((sorted(fixed.items()), stamp)), part
    rest = sorted((name, said) for name, said in fixed.items() if name not in UNSHAPING)
    shapes = _kept(_shapes, (repr((rest, stamp)), part), Memory)
    return _kept(_memories, key, partial(Memory, shapes))


def _kept(
    memories: _Memories,
    key: tuple[str, Part],
    make: Callable[[], Memory],
) -> Memory:
    """Return the memory of a key, made where there is none; those used last are kept."""
    memory, uses = memories.pop(key, (make(), 0))
    # A memory only grows: after some edits it is begun anew.
    if uses >= _MOST_USES:
        memory, uses = make(), 0
    memories[key] = memory, uses + 1
    while len(memories) > _MOST_MEMORIES:
        memories.popitem(last=False)
    return memory

"""What is remembered of a shared scale. Frozen, and JSON there and back without loss."""

from __future__ import annotations

from dryward.core.cell import Cell
from dryward.core.frozen import frozen
from dryward.core.sharing import Form, Shared


@frozen
class Member:
    """A piece on a shared scale: its form, whether it hangs there now, and the last weighing by hand that was taken in."""

    name: str
    form: Form
    hangs: bool = True
    hand_s: float = -1.0e9


@frozen
class Doubt:
    """Something was lifted off, and it is not known which of ``names`` it was."""

    names: tuple[str, ...]
    weight_g: float
    sigma_g: float
    since_s: float


@frozen
class Rack:
    """One shared scale. ``members`` stand in the order of ``shared``.

    ``strangers`` are weights that were hung up and are no piece that is known; ``shift_g`` is the sum of small jumps that
    were nobody's; ``told``: that the sum cannot be true; ``unsure``: that the estimates have become unsure.
    """

    scale: str
    cell: Cell | None = None
    members: tuple[Member, ...] = ()
    shared: Shared | None = None
    doubts: tuple[Doubt, ...] = ()
    strangers: tuple[float, ...] = ()
    shift_g: float = 0.0
    told: bool = False
    unsure: bool = False

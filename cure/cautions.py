"""Cautions that several pages bear, word for word. They stand apart, so that nobody loads a fit for a sentence."""

from __future__ import annotations

from typing import Final

OF_A_CURVE: Final = (
    "A curve from a laboratory, not a strength of the structure. It holds for this mix only. Whether it may be used, "
    "and for what, is for the engineer of record, the contract and the local code to say; cylinders or other tests "
    "are still required before critical operations."
)

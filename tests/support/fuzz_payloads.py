"""Every decoder under a fuzzer that sees which lines it reaches: python tests/support/fuzz_payloads.py [SECONDS]

It needs atheris, which is no dependency of slabhour: `pip install atheris`, into an environment of its own that has
slabhour and its test packages. It ends with 0 when the time is over, and at the first message on which a decoder
raises, says nothing, or takes 2 s; that message is then in a file that it names.
"""

from __future__ import annotations

import sys
import tempfile
from importlib import import_module
from pathlib import Path
from typing import Any, Final

SECONDS: Final = 120
LARGEST_BYTES: Final = 65_536


def corpus(samples: Any, hard: Any) -> Path:
    """Write the messages from which it goes on, each behind the byte that chooses its format; return their folder."""
    folder = Path(tempfile.mkdtemp(prefix="slabhour-fuzz-"))
    for number, (name, sample) in enumerate(samples.items()):
        (folder / name.replace("+", "-")).write_bytes(bytes([number]) + sample.payload)
        for what, payload in hard.items():
            (folder / f"{number}-{what.replace(' ', '-')}").write_bytes(bytes([number]) + payload)
    return folder


def main() -> int:
    """Fuzz until the time is over."""
    try:
        atheris = import_module("atheris")
    except ImportError:
        sys.stderr.write("this needs atheris, which is not installed: pip install atheris\n")
        return 1
    with atheris.instrument_imports(include=["ingest", "jmespath"]):
        samples = import_module("payloads_support").SAMPLES
        hard = dict(import_module("deploy.bench.payloads").payloads())
    decoders = [sample.decode for sample in samples.values()]

    def one(data: bytes) -> None:
        found = decoders[data[0] % len(decoders)](data[1:]) if data else None
        if found is None:
            return
        assert found.records or found.untimed or found.faults or found.facts, "no answer"
        assert all(f.detail.isascii() and f.detail.isprintable() for f in found.faults), "not printable"

    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    options = [f"-max_total_time={seconds}", f"-max_len={LARGEST_BYTES}", "-timeout=2", "-print_final_stats=1"]
    atheris.Setup([sys.argv[0], *options, str(corpus(samples, hard))], one)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())

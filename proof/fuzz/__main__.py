"""`python -m proof.fuzz TARGET SECONDS`: feed one target for a while; ends with 1 where something was found."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

os.environ["NUMBA_DISABLE_JIT"] = "1"


def main() -> None:
    name, seconds = sys.argv[1], int(sys.argv[2])
    import atheris

    with atheris.instrument_imports(include=["firstoff.program", "firstoff.facts", "firstoff.removal.shape"]):
        from proof.fuzz import targets

    target = targets.TARGETS[name]
    corpus = Path(tempfile.mkdtemp(prefix=f"fuzz-{name}-"))
    for number, data in enumerate(targets.seeds(name)):
        (corpus / str(number)).write_bytes(data)
    options = [f"-max_total_time={seconds}", f"-max_len={targets.MOST_BYTES}", "-timeout=120", "-rss_limit_mb=3000"]
    options += [f"-artifact_prefix={corpus}/found-", "-print_final_stats=1", "-verbosity=1"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], target)
    atheris.Fuzz()


if __name__ == "__main__":
    main()

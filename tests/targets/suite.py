#!/usr/bin/env python3
"""What came of the test suite under qemu, for the page of results:

    suite.py OUTPUT

A test that failed because qemu does not have a call of the system (the modes of a terminal cannot
be set: "Function not implemented"; so the gauge does not start and "never shows" anything) shows
nothing, neither way: it is named. Any other failure ends this with 1.
"""

import pathlib
import re
import sys

LACKS = ("Function not implemented", "never shows")


def main(path):
    text = pathlib.Path(path).read_text(errors="replace")
    passed, broken = 0, []
    for run in re.split(r"^ +Running ", text, flags=re.M)[1:]:
        # The last result is the run's own: a test may start itself anew.
        results = re.findall(r"^test result: \w+\. (\d+) passed", run, re.M)
        if results:
            passed += int(results[-1])
        else:
            broken.append(run.split()[0])
    said = dict(re.findall(r"^---- (\S+) stdout ----\n(.*?)(?=^---- |^failures:)", text, re.M | re.S))
    failed = set(re.findall(r"^test (\S+) \.\.\. FAILED", text, re.M))
    started = {name for name in failed if any(f"test {name} ..." in words for words in said.values())}
    failed = failed - started | {f"{name}: no end" for name in broken}
    lacking = sorted(name for name in failed if any(lack in said.get(name, "") for lack in LACKS))
    others = sorted(failed - set(lacking))
    print(f"{passed} tests passed, {len(failed)} failed.")
    if lacking:
        print("\nNothing is shown by these, for want of a call in qemu:\n")
        print("\n".join(f"- `{name}`" for name in lacking))
    if others:
        print("\nFailed:\n")
        print("\n".join(f"- **`{name}`**" for name in others))
    return 1 if others or not passed else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))

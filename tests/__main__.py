"""Find or fetch a browser, then run the tests: ``python -m tests [--long] [pytest's options]``.

The default suite is what CI runs; ``--long`` runs the rest as well.
"""

import os
import subprocess
import sys

from tests.browser.chromium import VARIABLE, find_or_install


def main() -> int:
    os.environ[VARIABLE] = str(find_or_install())
    arguments = sys.argv[1:]
    if not any(argument.startswith(("-n", "--numprocesses", "-p")) for argument in arguments):
        # One more than there are processors: tests of the browser and of commands wait for them half of their time.
        workers = min((os.cpu_count() or 1) + 1, 4)
        arguments = ["-n", str(workers), *arguments]
    return subprocess.call([sys.executable, "-m", "pytest", *arguments])


if __name__ == "__main__":
    sys.exit(main())

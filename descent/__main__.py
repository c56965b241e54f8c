# SPDX-License-Identifier: MIT
"""`python -m descent`."""

from descent.faces.cli.main import main

if __name__ == "__main__":
    main()

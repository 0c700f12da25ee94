"""``python -m treatment``."""

from treatment.cli import main

if __name__ == "__main__":
    main()

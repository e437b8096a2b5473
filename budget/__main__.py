"""``python -m budget``: the same as the command ``budget``."""

from budget.cli import main

if __name__ == "__main__":
    main(prog_name="budget")

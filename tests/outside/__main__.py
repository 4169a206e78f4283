"""Print the table: what is checked, the figure from outside, ours, and where it is from."""

from __future__ import annotations

from collections import Counter

from tests.outside import CHECKS
from tests.outside.elsewhere import ELSEWHERE

HEADINGS = ("topic", "what", "outside", "ours", "allowed", "basis", "source")


def main() -> None:
    """Print every row, then what stands elsewhere and how many rows each basis has."""
    rows = [HEADINGS, *(check.columns() for check in CHECKS)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(HEADINGS) - 1)]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, [*widths, 0], strict=True)]
        print("  ".join(cells).rstrip())
    print("\nIn test modules of their own:")
    for topic, what, against, module in ELSEWHERE:
        print(f"  {topic}: {what}; {against}; {module}")
    counted = Counter(check.basis for check in CHECKS)
    print(f"\n{len(CHECKS)} rows: " + ", ".join(f"{n} {basis}" for basis, n in counted.items()))


if __name__ == "__main__":
    main()

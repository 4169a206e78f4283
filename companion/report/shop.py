"""The shop that a sheet comes from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shop:
    """What a shop has set of itself; each may be empty.

    Attributes:
        name: As the owner knows it.
        address: In one line or several.
        phone: As it is written.
    """

    name: str = ""
    address: str = ""
    phone: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """Address and telephone, a line each."""
        return tuple(
            line.strip() for line in (*self.address.splitlines(), self.phone) if line.strip()
        )


NO_SHOP = Shop()
"""Of a shop that has set nothing."""

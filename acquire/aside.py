"""Work beside the loop: handed to whoever has some; a thread in a bay, virtual time where it is simulated."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, Protocol, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class Aside(Protocol):
    """Calls a function that blocks, without holding up the loop; `asyncio.to_thread` is one."""

    async def __call__(self, func: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T: ...

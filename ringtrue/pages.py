"""The pages of a bay put together: its settings, its broker, its people, its records."""

from __future__ import annotations

import time
from collections.abc import Callable

from config.settings import Settings
from contract.lengths import UNITS
from contract.topics import Topics
from display.walk.bay import BayAtHand
from display.web.app import World
from display.web.camera import Camera
from display.web.doors import Doors
from display.web.feed import Feed
from display.web.people import PeopleFile
from display.web.reads import read_routes
from display.web.sessions import SessionFile
from display.web.tabs import Tabs
from records.photos import keep_photo
from ringtrue.connect import broker_of
from ringtrue.showing import Showing

LOOPBACK = ("localhost", "127.0.0.1", "::1")


def world_of(settings: Settings) -> World:
    """What the pages of this bay live on. Raises ConfigError or PeopleError."""
    address = broker_of(settings)
    topics = Topics(settings.bay.site, settings.bay.name)
    display, photos = settings.display, settings.photos.folder
    is_secure = display.certificate is not None

    def bay(person: str, on_news: Callable[[], None]) -> BayAtHand:
        return BayAtHand(topics, person, address, unit=UNITS["mm"], now_s=time.monotonic, on_news=on_news)

    host = display.address[0] if display.listen is not None else ""
    return World(
        bay=f"{topics.site}/{topics.bay}",
        feed=Feed(address),
        tabs=Tabs(bay),
        doors=Doors(
            None if display.people is None else PeopleFile(display.people).now,
            lambda: address().password,
            is_secure=is_secure,
            file=SessionFile(display.sessions),
        ),
        camera=Camera(lambda picture: keep_photo(picture, photos)),
        reads=read_routes(Showing(settings)),
        hosts=None if is_secure else {*LOOPBACK, host},
        is_secure=is_secure,
    )

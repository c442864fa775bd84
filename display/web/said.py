"""What pages say in another language than English: the catalogue, as a page fetches it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from display.words import LanguageError, texts


def words_route() -> Route:
    """`/words/de.json`: English text → German; for whoever asks, as the wall does."""
    return Route("/words/{language}.json", _words)


async def _words(request: Request) -> Response:
    try:
        said = dict(texts(request.path_params["language"]))
    except LanguageError as error:
        return JSONResponse({"error": str(error)}, 404)
    return JSONResponse(said, headers={"Cache-Control": "no-cache"})

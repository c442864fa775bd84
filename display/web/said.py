"""What pages say in the language that is set: both catalogues, as a page fetches them."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from display.told import patterns
from display.words import LanguageError, texts


def said_routes() -> list[Route]:
    """`/words/de.json`: English text → German; `/told/de.json`: the same of sentences that others wrote. For
    whoever asks, as the wall does."""
    return [Route("/words/{language}.json", _words), Route("/told/{language}.json", _told)]


async def _words(request: Request) -> Response:
    return _answer(request, told=False)


async def _told(request: Request) -> Response:
    return _answer(request, told=True)


def _answer(request: Request, *, told: bool) -> Response:
    language = request.path_params["language"]
    try:
        said = dict(texts(language))
    except LanguageError as error:
        return JSONResponse({"error": str(error)}, 404)
    if told:
        said = {text: one[language] for text, one in patterns().items() if language in one}
    return JSONResponse(said, headers={"Cache-Control": "no-cache"})

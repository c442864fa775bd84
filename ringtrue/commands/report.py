"""`ringtrue report`: an inspection as a PDF or a page of HTML, to be read, signed and filed."""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError, add_config, add_unit, count, placed

if TYPE_CHECKING:
    from contract.result import Result
    from records.report.content import Source
    from records.report.page import Page
    from records.report.seal import Seal

PASSPHRASE = "RINGTRUE_REPORT_PASSPHRASE"  # noqa: S105 the name of a variable, no secret
"""The variable of the environment that may hold the passphrase of a key."""

EXAMPLE = f"""\
The PDF is tagged, PDF/A-3a, and holds the result document byte for byte; the same document gives the same
bytes. --sign-with seals it with a key of your own (RSA, with its certificate; docs/report.md says how one
is made); its passphrase comes from --passphrase-file or the environment ({PASSPHRASE}).

exit: 0 made; 1 the document contradicts itself; 2 usage; 3 none was made.

examples:
  ringtrue report truck-14-november
  ringtrue report truck-14-november -o reports/ --unit in
  ringtrue report truck-14-november --html
  ringtrue report truck-14-november --sign-with bay-2.p12 --passphrase-file bay-2.pass
  ringtrue report --result truck-14-november.json -o truck-14.pdf
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "report",
        help="an inspection as a PDF, to be read, signed and filed",
        description=(
            "Makes the report of an inspection: verdict and reasons, every figure with its uncertainty and "
            "limit, pictures, what was seen, earlier inspections of the damper, method, gauges, signature."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("inspection", nargs="?", metavar="INSPECTION", help="its id")
    parser.add_argument(
        "--result", type=Path, metavar="FILE", help="a result document (JSON) instead of an id; needs no bay"
    )
    parser.add_argument("--revision", type=count, metavar="N", help="which one (default: the latest)")
    parser.add_argument(
        "-o",
        "--output",
        default=".",
        metavar="FILE",
        help="the file to make, which must not exist, or a folder for one named after inspection and "
        "revision (default: here)",
    )
    parser.add_argument("--html", action="store_true", help="one HTML file that needs nothing else")
    add_unit(parser, "of lengths (default: mm); the document that it holds stays in mm")
    parser.add_argument(
        "--photos",
        type=Path,
        metavar="FOLDER",
        help="where the photos lie that the result names (default: the configuration's folder)",
    )
    parser.add_argument(
        "--sign-with", type=Path, metavar="FILE", help="seal the PDF: PKCS#12, or PEM of key and certificate"
    )
    parser.add_argument(
        "--passphrase-file", type=Path, metavar="FILE", help="its first line opens the key of --sign-with"
    )
    parser.add_argument("--json", action="store_true", help="say in JSON what was made")
    add_config(parser)


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError, ConfigError, RecordsError, JournalError or OSError."""
    from contract.lengths import UNITS
    from records.report.content import compose, file_stem, read_result
    from ringtrue.writing import write_new

    _refuse_what_clashes(args)
    source = _source(args)
    result = read_result(source.document, str(args.result or args.inspection))
    page = compose(source, UNITS[args.unit])
    output = placed(args.output, file_stem(result) + (".html" if args.html else ".pdf"))
    seal = None if args.sign_with is None else _seal(args)
    data = _set(page, result, seal, html=args.html)
    write_new(output, data, "a report")
    _say(args, output, result, page, data, seal)
    return 0


def _refuse_what_clashes(args: argparse.Namespace) -> None:
    if (args.inspection is None) == (args.result is None):
        found = "neither" if args.result is None else "both"
        raise UsageError("INSPECTION", found, "either an inspection's id or --result FILE")
    if args.result is not None and args.revision is not None:
        raise UsageError("--revision", "--result", "an inspection's id with it: a file is of one revision")
    if args.html and args.sign_with is not None:
        raise UsageError("--sign-with", "--html", "a PDF: only that can be sealed")
    if args.passphrase_file is not None and args.sign_with is None:
        raise UsageError("--passphrase-file", "no --sign-with", "the key that it opens")
    wanted = ".html" if args.html else ".pdf"
    output = Path(args.output)
    other = output.suffix.lower()
    if other in (".html", ".htm", ".pdf") and other[:4] != wanted[:4] and not output.is_dir():
        raise UsageError("-o", args.output, f"a name that ends in {wanted}" + _or_html(args.html))


def _or_html(is_html: bool) -> str:
    return "" if is_html else ", or --html with it"


def _source(args: argparse.Namespace) -> Source:
    from config.settings import read_settings
    from records.report.content import Source, read_result
    from ringtrue.reporting import find, photos_of

    if args.result is None:
        source = find(read_settings(args.config, os.environ), args.inspection, args.revision)
    else:
        source = Source(args.result.read_bytes())
    if args.photos is None:
        return source
    result = read_result(source.document, str(args.result or args.inspection))
    return replace(source, photos=photos_of(result, args.photos))


def _seal(args: argparse.Namespace) -> Seal:
    from records.report.seal import read_seal

    passphrase = os.environ.get(PASSPHRASE)
    if args.passphrase_file is not None:
        lines = args.passphrase_file.read_text(encoding="utf-8").splitlines()
        passphrase = lines[0] if lines else ""
    return read_seal(args.sign_with, None if passphrase is None else passphrase.encode())


def _set(page: Page, result: Result, seal: Seal | None, *, html: bool) -> bytes:
    if html:
        from records.report.html import as_html

        return as_html(page).encode()
    from records.report.pdf import as_pdf

    pdf = as_pdf(page)
    if seal is None:
        return pdf
    reason = f"Report of inspection {result.inspection}, revision {result.revision}"
    return seal.put_on(pdf, reason, f"{result.site}, {result.bay}")


def _say(
    args: argparse.Namespace, output: Path, result: Result, page: Page, data: bytes, seal: Seal | None
) -> None:
    if args.json:
        said = {
            "file": str(output),
            "inspection": result.inspection,
            "revision": result.revision,
            "state": result.state,
            "verdict": result.verdict,
            "decision": result.decision,
            "document_sha256": sha256(page.document).hexdigest(),
            "sha256": sha256(data).hexdigest(),
            "sealed_by": None if seal is None else seal.owner,
        }
        print(json.dumps(said, ensure_ascii=False))
        return
    sealed = "" if seal is None else f", sealed by {seal.owner}"
    what = f"inspection {result.inspection}, revision {result.revision}, {result.state}"
    large = ", ".join(filter(None, (page.headline, page.notice))).lower()
    print(f"{output}: {what}: {large}{sealed}")

"""Routes that are no pages: scans come in, files of a job go out."""

from __future__ import annotations

from pathlib import Path

from nicegui import app
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from lossfill.errors import LossfillError
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.jobs import find_job
from lossfill.page.receive import drop_other_twins, receive, receive_twin
from lossfill.page.shared import Site
from lossfill.page.steps.pointing import search_again
from lossfill.page.words import common as words


def add_routes(site: Site) -> None:
    """Register the routes."""

    @app.post("/scan")
    async def scan(request: Request) -> Response:
        try:
            name = request.query_params.get("name", "")
            declared = _whole(request.headers.get("content-length", ""))
            job = await receive(site.jobs, name, request.stream(), declared=declared)
            site.runner.start(job, Stage.VESSEL)
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is there to read it
        except LossfillError as error:
            return _not_taken(error)
        return JSONResponse({"link": f"/job/{job.key}/scan"})

    @app.post("/twin/{key}")
    async def twin(key: str, request: Request) -> Response:
        job = find_job(site.jobs, key)
        if job is None:
            return JSONResponse({"failed": words.NO_SUCH_JOB}, status_code=404)
        try:
            name = await receive_twin(
                job,
                request.query_params.get("name", ""),
                request.stream(),
                declared=_whole(request.headers.get("content-length", "")),
            )
        except ClientDisconnect:
            return Response(status_code=400)
        except LossfillError as error:
            return _not_taken(error)
        search_again(Context(job, site.runner, job.read()), twin_file=name, form=None)
        # Not before: whatever was under way may still have been reading an earlier one.
        drop_other_twins(job, name)
        return JSONResponse({"link": f"/job/{job.key}/form"})

    @app.get("/files/{key}/{name:path}")
    def file(key: str, name: str) -> Response:
        job = find_job(site.jobs, key)
        path = None if job is None else _inside(job.folder, name)
        if path is None:
            text = words.NO_SUCH_FILE + "\n"
            return Response(text, status_code=404, media_type="text/plain")
        # What a scan's record holds is shown as text of another origin would be: it runs nothing.
        return FileResponse(
            path,
            headers={"Content-Security-Policy": "sandbox", "X-Content-Type-Options": "nosniff"},
        )

    @app.get("/job/{key}")
    def bare(key: str) -> Response:
        return RedirectResponse(f"/job/{key}/scan")


def _not_taken(error: LossfillError) -> Response:
    # What was not read is not waited for.
    headers = {"Connection": "close"}
    return JSONResponse({"failed": str(error)}, status_code=422, headers=headers)


def _inside(folder: Path, name: str) -> Path | None:
    """The file of that name in a job's folder, or None; no name leads out of it."""
    try:
        path = (folder / name).resolve()
        inside = path.relative_to(folder.resolve())
        # What begins with a dot is not yet whole.
        if any(part.startswith(".") for part in inside.parts) or not path.is_file():
            return None
    except (OSError, RuntimeError, ValueError):  # outside, a link in a circle, no name at all
        return None
    return path


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() else None

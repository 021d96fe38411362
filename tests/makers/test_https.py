"""Behind https, as ``STILLROOM_HTTPS`` says: nothing that signs a person in travels unencrypted."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
ASK = """
import json, sys, django
django.setup()
from django.core.management import call_command
from django.test import Client
from makers.models import User
call_command("migrate", verbosity=0)
call_command("collectstatic", verbosity=0, interactive=False)
User.objects.create_user("nessa@example.org", "marsh-samphire-19", name="Nessa Quill")
web = Client(headers={"host": "stillroom.example", "x-forwarded-proto": "https"}, enforce_csrf_checks=True)
web.get("/sign-in/")
form = {"username": "nessa@example.org", "password": "marsh-samphire-19"}
def send(origin):
    whole = form | {"csrfmiddlewaretoken": web.cookies["csrftoken"].value}
    return web.post("/sign-in/", whole, headers={"origin": origin, "referer": origin + "/"})
refused = send("https://elsewhere.example").status_code
inside = send(sys.argv[1] + "://stillroom.example")
print(json.dumps({
    "refused": refused,
    "inside": inside.status_code,
    "secure": {name: bool(cookie["secure"]) for name, cookie in web.cookies.items()},
    "script": {name: bool(cookie["httponly"]) for name, cookie in web.cookies.items()},
    "hsts": inside.headers.get("Strict-Transport-Security", ""),
}))
"""


@pytest.mark.parametrize("https", ["true", "false"])
def test_cookies_are_secure_whenever_the_server_is_behind_https(tmp_path: Path, https: str) -> None:
    """Settings are read once in a process, so the question is put to a new one."""
    wanted = https == "true"
    named = {
        name: value for name, value in os.environ.items() if not name.startswith(("STILLROOM_", "DATABASE"))
    }
    named |= {
        "DJANGO_SETTINGS_MODULE": "makers.settings",
        "STILLROOM_DATA": str(tmp_path),
        "STILLROOM_HOSTS": "stillroom.example",
        "STILLROOM_HTTPS": https,
    }
    done = subprocess.run(  # noqa: S603  (our own command, no shell)
        [sys.executable, "-c", ASK, "https" if wanted else "http"],
        cwd=ROOT,
        env=named,
        text=True,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])

    assert told["secure"] == {"csrftoken": wanted, "sessionid": wanted}
    assert told["script"]["sessionid"] is True
    assert told["refused"] == 403
    assert told["inside"] == 302
    assert bool(told["hsts"]) is wanted

"""The portal can be put on a phone's home screen."""

import re
from xml.etree import ElementTree

from django.contrib.staticfiles import finders


def test_every_page_names_the_manifest_and_it_is_served_as_one(cast, browse):
    ada = browse(cast.ada.user)
    page = ada.get("/portal/").content.decode()
    link = re.search(r'<link rel="manifest" href="([^"]+)" crossorigin="use-credentials">', page)
    answer = ada.get(link.group(1))
    assert answer["Content-Type"] == "application/manifest+json"
    manifest = answer.json()
    assert manifest["start_url"] == "/portal/"
    assert manifest["display"] == "standalone"
    assert {icon["purpose"] for icon in manifest["icons"]} == {"any", "maskable"}
    for shortcut in manifest["shortcuts"]:
        assert ada.get(shortcut["url"], follow=True).status_code == 200


def test_the_icons_are_square_drawings(cast, browse):
    icons = browse(cast.ada.user).get("/portal/app.webmanifest").json()["icons"]
    for icon in icons:
        root = ElementTree.parse(finders.find(icon["src"].removeprefix("/static/"))).getroot()
        assert root.tag.endswith("svg")
        assert root.get("viewBox") == "0 0 512 512"
    assert len(icons) == 2

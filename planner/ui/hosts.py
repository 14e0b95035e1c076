"""Which names the app answers to: a page elsewhere must not reach it under a name of its own (DNS rebinding).

Whoever owns a name may let it point to this machine, and a browser then takes the app for a part of that page. An
address in numbers cannot be turned so. The names allowed are those of this machine itself and those that
``planner app --host NAME`` lists.
"""

import ipaddress
import os
from collections.abc import Mapping
from urllib.parse import urlsplit

import streamlit as st

LISTED = "PLANNER_HOSTS"  # names, with commas between
OWN = "localhost"


def refuse_foreign_host() -> None:
    """End the page for a browser that came by a name that is not listed, or from a page of another place."""
    problem = foreign(st.context.headers, os.environ.get(LISTED, ""))
    if problem:
        st.error(f"Host = {problem}: is not a name that this app answers to. Start it with --host and this name if it "
                 "is yours.")
        st.stop()


def foreign(headers: Mapping[str, str], listed: str) -> str:
    """Return the name of host or origin that is not allowed, empty if all are."""
    allowed = {OWN, *(name.strip().lower() for name in listed.split(",") if name.strip())}
    host = _name(f"//{headers.get('Host') or OWN}")
    if host not in allowed and not _in_numbers(host):
        return "another name"
    origin = headers.get("Origin")
    if origin and _name(origin) != host and not _both_here(host, _name(origin)):
        return "another page's"
    return ""


def _name(address: str) -> str:
    try:
        return (urlsplit(address).hostname or "").rstrip(".").lower()
    except ValueError:
        return ""


def _in_numbers(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _both_here(*hosts: str) -> bool:
    return all(host == OWN or (_in_numbers(host) and ipaddress.ip_address(host).is_loopback) for host in hosts)

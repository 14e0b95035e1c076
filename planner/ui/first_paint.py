"""The look from the first paint on: light, dark or red, as chosen before, or as the system wishes.

The page's own program takes up to two seconds to load, on white. The sheets of light of every look, and a few lines
that choose one, therefore go into the head of the page that the server sends. A look is an attribute of the page's
root; the sheets lie over whatever is drawn later: text, inputs, menus, tables, charts. None is in the way of a click.
There, too, one press of Back is made to go one page back: only who leaves a page by hand leaves a step behind, no
setting and no page that leads on by itself.

- Dark: light is turned into dark and the hues are turned back, so that west stays blue.
- Red: sheet by sheet, a pixel loses its colour, is turned from light to dark, is lifted so that pale text stays
  readable, and keeps its red part only: no green or blue light leaves the screen. White paper becomes black, body text
  (238, 0, 0), which is 4.6 to 1 on black by the contrast formula of WCAG 2.1.
"""

from typing import Any
from urllib.parse import quote

LIGHT, DARK, RED, SYSTEM = "light", "dark", "red", "system"
LOOKS = (SYSTEM, LIGHT, DARK, RED)
LOOK_COOKIE, DIM_COOKIE, WISH_COOKIE = "planner_look", "planner_dim", "planner_dark"

_GREY = "".join(f"<feFunc{one} type='gamma' exponent='2.2'/>" for one in "RGB")
_INK = quote(f"<svg xmlns='http://www.w3.org/2000/svg'><filter id='ink' color-interpolation-filters='sRGB'>"
             f"<feComponentTransfer>{_GREY}</feComponentTransfer></filter></svg>")  # grey darker, white as it is
_SHEETS = """
html {background: #ffffff}
[data-testid="stDataFrame"] canvas {filter: url("data:image/svg+xml,INK#ink")}
::placeholder {color: #4f565c !important; -webkit-text-fill-color: #4f565c; opacity: 1 !important}
[data-testid="stMultiSelect"]:has(label[disabled]) :is([data-tag], [data-tag] *) {color: #1d2329}
:is(a, button, summary, [role="tab"], [role="radio"], [role="spinbutton"]):focus-visible,
:is([data-testid="stTextInputRootElement"], [data-testid="stTextAreaRootElement"],
  [data-testid="stNumberInputContainer"], [role="group"]):has(:is(input, textarea):focus-visible) {
  outline: 2px solid #0b5c8a !important; outline-offset: 1px}
html[data-typed] [class*="st-key-of_rows"] > * {opacity: 0.45}
html[data-typed] [class*="st-key-of_rows"]::before {content: "Rows have changed: this is the answer to those before."}
@media screen {
  html:is([data-look=dark], [data-look=red])::before, html[data-look=red] body::before,
  html[data-look=red] body::after, html:is([data-look=dark], [data-look=red])::after {
    content: ""; position: fixed; inset: 0; z-index: 2147483647; pointer-events: none}
  html[data-look=dark]::before {backdrop-filter: invert(0.91) hue-rotate(180deg)}
  html[data-look=dark]::after {background: #000000; opacity: calc(1 - var(--dim, 1))}
  html[data-look=red]::before {background: #808080; mix-blend-mode: saturation}
  html[data-look=red] body::before {background: #ffffff; mix-blend-mode: difference}
  html[data-look=red] body::after {background: #555555; mix-blend-mode: color-dodge}
  html[data-look=red]::after {background: rgb(calc(238 * var(--dim, 1)) 0 0); mix-blend-mode: multiply}
  html[data-look=red] :is([data-testid="stMain"] [role="group"], [data-testid="stTextInputRootElement"],
    [data-testid="stDateInputField"], [data-testid="stFileUploaderDropzone"],
    [data-testid="stNumberInputContainer"], [data-testid="stExpander"] details,
    [data-testid="stMain"] button) {border-color: #767676}
  html[data-look=red] [data-testid="stMultiSelect"] [data-tag] {
    background: transparent; box-shadow: inset 0 0 0 1px currentColor}
  html[data-look=red] [data-testid="stMultiSelect"] :is([data-tag], [data-tag] *) {color: inherit}
  html[data-look=red] [data-testid="stAlertContainer"] {border: 1px dashed #767676}
  html[data-look=red] :is([data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] *,
    [data-testid="stAlertContainer"] *, [data-testid="stTable"] :is(th, th *)) {color: inherit; opacity: 1}
  html[data-look=red] [data-testid="stAlertContainer"] {color: inherit}
  html[data-look=red] ::placeholder {font-style: italic}
}
""".replace("INK", _INK)
_CHOOSE = """
(() => {
  const root = document.documentElement, wish = matchMedia("(prefers-color-scheme: dark)");
  const kept = name => (document.cookie.split("; ").find(one => one.startsWith(name + "=")) || "").split("=")[1];
  const keep = (name, value) => {
    document.cookie = name + "=" + value + "; path=/; max-age=" + 3e7 + "; SameSite=Strict"};
  let asked = new URLSearchParams(location.search).get("look") || kept("LOOK_COOKIE"), dim = kept("DIM_COOKIE");
  const show = () => {
    root.dataset.look = ["light", "dark", "red"].includes(asked) ? asked : wish.matches ? "dark" : "light";
    root.style.setProperty("--dim", Math.min(Math.max(Number(dim) || 100, 10), 100) / 100);
    keep("WISH_COOKIE", Number(wish.matches));
  };
  window.plannerLook = (look, percent, store) => {
    asked = look; dim = percent;
    if (store) {keep("LOOK_COOKIE", look); keep("DIM_COOKIE", percent)}
    show();
  };
  wish.addEventListener("change", show);
  show();
  const typed = event => {
    const one = event.target;
    if (!(one instanceof Element)) return;
    const edits = event.type === "input" ? one.closest(".gdg-input")
      : one.closest('[class*="st-key-rows_"]') && (event.type === "paste" || (event.type === "click"
        ? one.closest('[data-testid="stElementToolbarButton"]') : ["Delete", "Backspace"].includes(event.key)));
    if (edits) root.dataset.typed = "";
  };
  for (const type of ["input", "paste", "click", "keydown"]) addEventListener(type, typed, true);
  let pressed = false;
  for (const type of ["pointerdown", "keydown"]) addEventListener(type, () => {pressed = true}, true);
  addEventListener("popstate", () => {pressed = false}, true);
  const push = history.pushState.bind(history);
  history.pushState = (state, title, url) => {
    const left = pressed && new URL(url, location.href).pathname !== location.pathname;
    (left ? push : history.replaceState.bind(history))(state, title, url);
  };
  window.plannerRowsTaken = () => document.querySelector(".gdg-input") || root.removeAttribute("data-typed");
})();
"""


def head() -> bytes:
    """Return what goes into the head of the page that the server sends."""
    choose = _CHOOSE
    for name, cookie in (("LOOK_COOKIE", LOOK_COOKIE), ("DIM_COOKIE", DIM_COOKIE), ("WISH_COOKIE", WISH_COOKIE)):
        choose = choose.replace(name, cookie)
    return f"<style>{_SHEETS}</style><script>{choose}</script>".encode()


class FirstPaint:
    """A layer of the server (ASGI) that writes `head` into every page of hypertext."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Pass a request on, and its answer back."""
        if scope["type"] != "http" or not any(name == b"accept" and b"text/html" in value
                                              for name, value in scope["headers"]):
            await self._app(scope, receive, send)
            return
        # The text must come as it is, whole and now: neither packed, nor a part, nor as it was kept.
        left_out = (b"accept-encoding", b"range", b"if-none-match", b"if-modified-since")
        asked = scope | {"headers": [pair for pair in scope["headers"] if pair[0] not in left_out]}
        await self._app(asked, receive, _writing(send))


def _writing(send: Any) -> Any:
    """Return a `send` that holds a page of hypertext back until it is whole, and writes the head into it."""
    begun: list[dict[str, Any]] = []
    parts: list[bytes] = []

    async def sending(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start" and _is_page(message):
            begun.append(message)
        elif not begun or message["type"] != "http.response.body":
            await send(message)
        else:
            parts.append(message.get("body", b""))
            if not message.get("more_body", False):
                body = b"".join(parts).replace(b"<head>", b"<head>" + head(), 1)
                kept = [pair for pair in begun[0]["headers"]
                        if pair[0].lower() not in (b"content-length", b"etag", b"last-modified", b"accept-ranges")]
                await send(begun[0] | {"headers": [*kept, (b"content-length", str(len(body)).encode())]})
                await send({"type": "http.response.body", "body": body})

    return sending


def _is_page(start: dict[str, Any]) -> bool:
    return start["status"] == 200 and any(name.lower() == b"content-type" and value.startswith(b"text/html")
                                          for name, value in start["headers"])

"""Designs that the photograph benchmark prints: drawn here, one to five screens, on black and white cloth."""

from __future__ import annotations

LANTERN = """<circle cx="50" cy="50" r="44" fill="#0f6e6e"/><circle cx="50" cy="50" r="36" fill="#f2c14e"/>
<path d="M24 66 L50 20 L76 66 Z" fill="#b3202c"/><circle cx="50" cy="47" r="8" fill="#ffffff"/>"""
OARS = """<path d="M10 20 L80 90 L90 80 L20 10 Z" fill="#1d3c78"/>
<path d="M90 20 L20 90 L10 80 L80 10 Z" fill="#d8432b"/><circle cx="50" cy="50" r="14" fill="#f2c14e"/>
<path d="M8 96 h70" stroke="#1d3c78" stroke-width="0.5"/>"""
CLUB = """<rect x="8" y="12" width="84" height="60" rx="8" fill="#ffffff"/>
<rect x="14" y="18" width="40" height="48" fill="#c8102e"/>
<path d="M60 22 h26 v8 h-26 z M60 36 h26 v8 h-26 z M60 50 h14 v8 h-14 z" fill="#c8102e"/>"""
BOAT = """<path d="M12 62 H88 L76 82 H26 Z" fill="#1b2a4a"/><path d="M47 14 V58 H20 Z" fill="#d8432b"/>
<path d="M53 20 V58 H80 Z" fill="#2f9e94"/><path d="M8 90 q7 -6 14 0 t14 0 t14 0 t14 0 t14 0 t14 0" fill="none"
 stroke="#1b2a4a" stroke-width="1.6"/><path d="M50 10 V62" stroke="#1b2a4a" stroke-width="1.2"/>"""
CREST = """<path d="M14 10 H86 V52 Q84 80 50 94 Q16 80 14 52 Z" fill="#f4f1e8"/>
<path d="M20 16 H48 V48 H20 Z" fill="#1d5fa8"/><path d="M52 16 H80 V48 H52 Z" fill="#c8102e"/>
<path d="M22 54 H78 Q74 74 50 86 Q26 74 22 54 Z" fill="#e0a526"/><circle cx="50" cy="66" r="7" fill="#1d5fa8"/>
<path d="M28 32 h12 M34 26 v12" stroke="#f4f1e8" stroke-width="3"/>"""
FISH = """<path d="M10 50 Q36 14 70 42 L92 26 L86 50 L92 74 L70 58 Q36 86 10 50 Z" fill="#2a7f62"/>
<path d="M40 34 q8 16 0 32 M50 34 q8 16 0 32 M60 38 q6 12 0 24" fill="none" stroke="#f0b429" stroke-width="2.4"/>
<circle cx="26" cy="46" r="4" fill="#f0b429"/><path d="M8 92 h60 M8 95 h40" stroke="#2a7f62" stroke-width="0.6"/>"""
KITE = """<path d="M50 6 L80 40 H50 Z" fill="#d8432b"/><path d="M50 6 L20 40 H50 Z" fill="#f2c14e"/>
<path d="M20 40 H50 V80 Z" fill="#1d5fa8"/><path d="M80 40 H50 V80 Z" fill="#2a9d5b"/>
<path d="M50 80 q10 6 0 10 t0 8" fill="none" stroke="#1b1b1b" stroke-width="1"/><rect x="12" y="86" width="24"
 height="6" fill="#1b1b1b"/>"""
TOWER = """<path d="M40 90 L44 30 H56 L60 90 Z" fill="#ffffff"/><path d="M42.6 52 H57.4 L58 62 H42 Z" fill="#c8102e"/>
<path d="M41.4 72 H58.6 L59.3 82 H40.7 Z" fill="#c8102e"/><rect x="42" y="20" width="16" height="10" fill="#f2c14e"/>
<path d="M40 20 L50 10 L60 20 Z" fill="#c8102e"/><path d="M8 94 H92 V90 H8 Z" fill="#ffffff"/>
<path d="M12 22 l24 3 -24 6 Z M88 22 l-24 3 24 6 Z" fill="#f2c14e"/>"""
GLOW = """<defs><radialGradient id="g"><stop offset="0" stop-color="#fff2c0"/><stop offset="1" stop-color="#e0562a"/>
</radialGradient></defs><circle cx="50" cy="40" r="30" fill="url(#g)"/><path d="M6 60 H94 V88 H6 Z" fill="#1d3c78"/>
<path d="M30 58 L50 26 L70 58 Z" fill="#ffffff"/><path d="M12 92 h60 v3 h-60 z" fill="#ffffff"/>"""
DUSK = """<defs><linearGradient id="s" x1="0" y1="0" x2="0" y2="1"><stop offset="0" stop-color="#23366e"/>
<stop offset="1" stop-color="#f0a040"/></linearGradient></defs>
<rect x="10" y="8" width="80" height="58" fill="url(#s)"/>
<path d="M10 66 H90 V84 H10 Z" fill="#1b1b1b"/><path d="M20 66 l14 -26 14 26 Z M50 66 l18 -34 18 34 Z" fill="#1b1b1b"/>
<circle cx="34" cy="24" r="6" fill="#ffffff"/><rect x="20" y="90" width="50" height="4" fill="#1b1b1b"/>"""

RIGGING = """<path d="M12 66 H88 L76 84 H26 Z" fill="#1b2a4a"/><path d="M50 8 V66" stroke="#1b2a4a" stroke-width="2"/>
<g stroke="#1b2a4a" fill="none"><path d="M50 10 L14 64" stroke-width="0.28"/>
<path d="M50 14 L20 64" stroke-width="0.34"/>
<path d="M50 18 L26 64" stroke-width="0.4"/><path d="M50 22 L32 64" stroke-width="0.46"/>
<path d="M50 10 L86 64" stroke-width="0.26"/><path d="M50 14 L80 64" stroke-width="0.32"/>
<path d="M50 18 L74 64" stroke-width="0.38"/><path d="M50 22 L68 64" stroke-width="0.5"/>
<path d="M8 90 H92" stroke-width="0.3"/><path d="M8 93 H92" stroke-width="0.36"/></g>
<path d="M60 72 h12 v6 h-12 z" fill="#d8432b"/>"""
WEB = """<path d="M10 10 H34 V26 H10 Z M66 84 H90 V90 H66 Z M12 70 h8 v18 h-8 z" fill="#ffffff"/>
<g fill="none" stroke="#ffffff">
<circle cx="50" cy="50" r="40" stroke-width="0.3"/><circle cx="50" cy="50" r="34" stroke-width="0.36"/>
<circle cx="50" cy="50" r="28" stroke-width="0.42"/><circle cx="50" cy="50" r="22" stroke-width="0.26"/>
<path d="M50 6 V94" stroke-width="0.34"/><path d="M6 50 H94" stroke-width="0.4"/><path d="M20 80 L80 20"
 stroke-width="0.3"/></g><circle cx="50" cy="50" r="9" fill="#c8102e"/>"""

FLAT = {
    "lantern": ("black tee", LANTERN),
    "oars": ("white tee", OARS),
    "club": ("black tee", CLUB),
    "boat": ("white tee", BOAT),
    "crest": ("black tee", CREST),
    "fish": ("white tee", FISH),
    "kite": ("white tee", KITE),
    "tower": ("black tee", TOWER),
}
"""Name to cloth and drawing, of solid colours."""
TONED = {"glow": ("black tee", GLOW), "dusk": ("white tee", DUSK)}
"""The same with gradients."""
LINED = {"rigging": ("white tee", RIGGING), "web": ("black tee", WEB)}
"""Lines of 0.2 to 0.4 mm on prints of 80 mm."""
EVERY = FLAT | TONED | LINED

# ruff: noqa: E501 -- a drawing is easier to follow on one line
"""Drawings that use what static SVG offers, each thing alone and several together.

All are twice as wide as high.
"""

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
PAGE = HEAD + 'width="40mm" height="20mm" viewBox="0 0 40 20">'

STAR = "M20 2 25 18 11 8 29 8 15 18Z"
WAVE = "M3 10C8 -4 12 24 17 10S26 -2 30 10T37 12"
LINE = 'fill="none" stroke="black"'
PEN = f'{LINE} stroke-width="2"'

BODIES = {
    # basic shapes
    "rect": '<rect x="4" y="3" width="30" height="12"/>',
    "rect_round": '<rect x="4" y="3" width="30" height="12" rx="5"/>',
    "rect_oval_corners": '<rect x="4" y="3" width="30" height="12" rx="9" ry="3"/>',
    "rect_corners_too_large": '<rect x="4" y="3" width="30" height="12" rx="40" ry="4"/>',
    "circle": '<circle cx="20" cy="10" r="8"/>',
    "ellipse": '<ellipse cx="20" cy="10" rx="16" ry="5"/>',
    "polygon": '<polygon points="3,17 12,3 20,12 31,2 37,17"/>',
    "polyline_filled": '<polyline points="3,17 12,3 20,12 31,2 37,17"/>',
    "line": '<line x1="4" y1="16" x2="35" y2="4" stroke="black" stroke-width="3"/>',
    # path commands
    "path_lines": '<path d="M4 4h20v3l8 2-6 3V17H4z"/>',
    "path_cubic": f'<path d="{WAVE}L37 19H3Z"/>',
    "path_quadratic": '<path d="M3 17Q10 -8 20 10t17 0V18H3z"/>',
    "path_arcs": '<path d="M5 10a5 5 0 1 1 10 0zM18 6A6 3 30 0 0 28 14A6 3 30 1 0 18 6ZM30 5a4 6 0 0 1 4 9z"/>',
    "path_arc_too_small": '<path d="M8 14A3 2 20 0 1 32 8L30 17Z"/>',
    "path_several": '<path d="M2 2h8v8h-8zm12 0h8v8h-8zM26 2h8v8h-8zm-22 11l6 5h-9z"/>',
    "path_after_close": '<path d="M5 5h8v8h-8zl20 -3v12z"/>',
    "path_tight_numbers": '<path d="M5.5.5.5 9.5l1e1.5.25.75-2-.5z"/><path d="M22 4a3 3 0 0110 6 5 2 10 1 1-9 3z"/>',
    # fill rules
    "star_nonzero": f'<path d="{STAR}"/>',
    "star_evenodd": f'<path d="{STAR}" fill-rule="evenodd"/>',
    "hole_by_direction": '<path d="M4 2H30V18H4ZM9 6V14H24V6Z"/>',
    "no_hole_same_direction": '<path d="M4 2H30V18H4ZM9 6H24V14H9Z"/>',
    "hole_evenodd": '<g fill-rule="evenodd"><path d="M4 2H30V18H4ZM9 6H24V14H9ZM12 8h6v4h-6z"/></g>',
    # strokes
    "caps_butt": f'<path {LINE} stroke-width="4" d="M6 5H34M8 15L30 11"/>',
    "caps_round": f'<path {LINE} stroke-width="4" stroke-linecap="round" d="M6 5H34M8 15L30 11"/>',
    "caps_square": f'<path {LINE} stroke-width="4" stroke-linecap="square" d="M6 5H34M8 15L30 11"/>',
    "joins_miter": f'<path {PEN} d="M4 17 9 4 14 17M20 15H26V5H32L36 14"/>',
    "joins_round": f'<path {LINE} stroke-width="3" stroke-linejoin="round" d="M4 17 9 4 14 17M20 15H26V5H32"/>',
    "joins_bevel": f'<path {LINE} stroke-width="3" stroke-linejoin="bevel" d="M4 17 9 4 14 17M20 15H26V5H32"/>',
    "miter_limit": f'<g {PEN}><path d="M4 16 7 6 10 16" stroke-miterlimit="2"/>'
    '<path d="M14 16 17 6 20 16" stroke-miterlimit="3.6"/>'
    '<path d="M24 16 27 6 30 16" stroke-miterlimit="3.4"/></g>',
    "stroke_closed": f'<path {PEN} d="M5 4H20V16H5Z"/><circle {PEN} cx="30" cy="10" r="6"/>',
    "stroke_and_fill": '<path d="M5 5H20L30 15H8Z" fill="red" stroke="blue" stroke-width="3"/>',
    "stroke_curve": f'<path {PEN} d="{WAVE}"/>',
    "stroke_tight_curve": f'<path {LINE} stroke-width="6" d="M8 15C8 2 11 2 11 15M20 12q4 -12 5 0"/>',
    "stroke_back_and_forth": f'<path {LINE} stroke-width="4" stroke-linejoin="round" d="M6 10H30H12"/>',
    "stroke_crossing_itself": f'<path {PEN} d="{STAR}"/>',
    "stroke_squashed": f'<g transform="translate(4 4) scale(3 .8)"><path {PEN} d="M1 1H9V13L4 5Z"/></g>',
    "stroke_skewed": f'<g transform="skewX(40)"><circle {PEN} cx="12" cy="10" r="6"/></g>',
    "stroke_squashed_caps": f'<path {PEN} stroke-linecap="round" transform="scale(3 1)" d="M3 4 9 15"/>',
    "stroke_percent": '<line x1="10%" y1="20%" x2="90%" y2="75%" stroke="black" stroke-width="5%"/>',
    "dots": f'<path {LINE} stroke-width="5" stroke-linecap="round" d="M6 10h0M15 10z"/>'
    f'<path {LINE} stroke-width="5" stroke-linecap="square" d="M25 10h0"/>'
    f'<path {LINE} stroke-width="5" d="M34 10h0"/>',
    # dashes
    "dashes": f'<path {PEN} stroke-dasharray="5 2" d="M3 5H37M3 15 36 11"/>',
    "dashes_odd": f'<path {PEN} stroke-dasharray="5,2,1" d="M3 5H37M3 15 36 11"/>',
    "dashes_offset": f'<path {PEN} stroke-dasharray="5 2" stroke-dashoffset="3" d="M3 5H37M3 15 36 11"/>',
    "dashes_offset_back": f'<path {PEN} stroke-dasharray="5 2" stroke-dashoffset="-3" d="M3 5H37M3 15 36 11"/>',
    "dashes_on_curve": f'<path {PEN} stroke-dasharray="3 1.5" d="{WAVE}"/>',
    "dashes_round_corner": f'<rect {PEN} stroke-dasharray="4 1.3" x="6" y="4" width="25" height="12"/>',
    "dashes_circle": f'<circle {PEN} stroke-dasharray="3 2" cx="20" cy="10" r="7"/>',
    "dashes_dots": f'<path {LINE} stroke-width="2.5" stroke-dasharray="0 4" stroke-linecap="round" d="{WAVE}"/>',
    "dashes_filled": '<path fill="red" stroke="blue" stroke-width="2" stroke-dasharray="3" d="M5 5H20L30 15H8Z"/>',
    "dashes_path_length": f'<path {PEN} pathLength="100" stroke-dasharray="10 5" d="M3 5H37V15H5"/>',
    "dashes_squashed": f'<ellipse {PEN} stroke-dasharray="2" transform="scale(2 1)" cx="10" cy="10" rx="8" ry="7"/>',
    # transforms
    "transforms": '<g transform="translate(16 11)"><rect x="-4" y="-2" width="8" height="4" '
    'transform="rotate(30) scale(1.5 .8) skewX(20)"/><rect x="8" width="6" height="2" transform="rotate(-50)"/></g>',
    "transform_matrix": '<path transform="matrix(.8 .3 -.5 .9 12 1)" d="M0 0h20v12h-20z"/>',
    "transform_about": '<rect x="12" y="6" width="16" height="8" transform="rotate(25, 20, 10)"/>',
    "mirrored": '<g transform="matrix(-1 0 0 1 40 0)"><path d="M3 3H20L5 17Z"/></g>',
    "circle_squashed": '<circle r="5" transform="translate(20 10) rotate(20) scale(3 1)"/>',
    # copies
    "use": '<defs><path id="a" d="M0 0h6l-3 8z"/></defs><use href="#a" x="3" y="3"/>'
    '<use xlink:href="#a" transform="translate(30 17) rotate(180) scale(1.5)"/>',
    "use_of_group": '<defs><g id="g"><circle r="3"/><rect x="4" width="4" height="3"/></g></defs>'
    '<use href="#g" x="5" y="6"/><use href="#g" x="20" y="12" transform="scale(1.2)"/>',
    "use_inherits": '<defs><path id="a" d="M0 0h9v9"/></defs><g fill="none" stroke="black">'
    '<use href="#a" x="3" y="3" stroke-width="2"/><use href="#a" x="20" y="3" stroke-width=".5"/></g>',
    "use_of_use": '<defs><rect id="a" width="3" height="3"/><g id="b"><use href="#a"/><use href="#a" x="5"/></g></defs>'
    '<use href="#b" x="2" y="2"/><use href="#b" x="2" y="8"/><use href="#b" x="20" y="14"/>',
    "symbol": '<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
    '<use href="#s" x="2" y="2" width="8" height="8"/><use href="#s" x="14" y="4" width="22" height="12"/>',
    "symbol_stretched": '<symbol id="s" viewBox="0 0 10 10" preserveAspectRatio="none"><path d="M0 0H10L5 10Z"/></symbol>'
    '<use href="#s" x="2" y="2" width="34" height="14"/>',
    "symbol_cuts": '<symbol id="s" viewBox="0 0 10 10"><circle cx="9" cy="5" r="4"/></symbol>'
    '<use href="#s" x="5" y="4" width="12" height="12"/>',
    "symbol_overflow": '<symbol id="s" viewBox="0 0 10 10" overflow="visible"><circle cx="9" cy="5" r="4"/></symbol>'
    '<use href="#s" x="5" y="4" width="12" height="12"/>',
    # viewports
    "nested": '<svg x="5" y="3" width="30" height="14" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>',
    "nested_min_slice": '<svg x="5" y="3" width="30" height="14" viewBox="0 0 10 10" '
    'preserveAspectRatio="xMinYMin slice"><circle cx="5" cy="5" r="5"/></svg>',
    "nested_cuts": '<svg x="10" y="5" width="20" height="10"><circle cx="4" cy="4" r="9"/><rect x="15" width="9" height="3"/></svg>',
    "nested_turned": '<g transform="rotate(15 20 10)"><svg x="10" y="5" width="20" height="10">'
    '<circle cx="4" cy="4" r="9"/></svg></g>',
    "nested_percent": '<svg x="25%" y="10%" width="50%" height="80%"><rect width="50%" height="50%"/>'
    '<circle cx="75%" cy="75%" r="15%"/></svg>',
    "nested_twice": '<svg x="2" y="2" width="30" height="16" viewBox="0 0 60 40"><svg x="10" y="10" width="40" height="20" '
    'viewBox="0 0 4 2" preserveAspectRatio="xMaxYMid"><path d="M0 0h4l-4 2z"/></svg></svg>',
    # style
    "sheet": '<style>rect{fill:none;stroke:black;stroke-width:2px}.thick{stroke-width:4}#plain{stroke:none;fill:red}</style>'
    '<rect x="3" y="3" width="8" height="12"/><rect class="thick" x="15" y="4" width="8" height="10"/>'
    '<rect id="plain" class="thick" x="28" y="3" width="8" height="12"/>',
    "sheet_combined": '<style>/* . */ g.a rect, #z > circle{fill:none} .a.b{display:none}</style>'
    '<g class="a"><rect x="2" y="2" width="9" height="9"/><circle cx="15" cy="6" r="4"/></g>'
    '<g id="z"><circle cx="25" cy="6" r="4"/><g><circle cx="35" cy="6" r="4"/></g></g><rect class="a b" width="9" height="20"/>',
    "style_attribute": '<path style="fill:none;stroke:#123;stroke-width:3;stroke-linecap:round" fill="red" d="M5 5 30 15"/>',
    "inheritance": '<g fill="none" stroke="black" stroke-width="2"><path d="M4 4h10v10"/><g stroke-width="4" stroke-linejoin="bevel">'
    '<path d="M20 4h10v10"/></g></g>',
    "current_colour": '<g color="black" fill="none" stroke="currentColor" stroke-width="2"><path d="M4 4h10v10"/></g>',
    "display_none": '<g display="none"><rect width="40" height="20"/></g><rect x="5" y="5" width="10" height="5"/>',
    "visibility": '<g visibility="hidden"><rect width="20" height="20"/><rect x="25" y="5" width="10" height="5" '
    'visibility="visible"/></g>',
    "important": '<style>rect{fill:none!important;stroke:red}</style><rect x="5" y="5" width="20" height="9" fill="red" '
    'style="fill:blue"/>',
    "paint_none": '<path d="M5 5h20v10" fill="none"/><path d="M5 5h20v10" stroke="none"/>'
    '<rect x="30" y="3" width="5" height="5" fill-opacity="0"/>',
    "switch": '<switch><g requiredExtensions="urn:x"><rect width="40" height="20"/></g><circle cx="20" cy="10" r="6"/></switch>',
    # clip paths
    "clip": '<clipPath id="c"><circle cx="20" cy="10" r="7"/></clipPath><rect x="2" y="6" width="36" height="8" clip-path="url(#c)"/>',
    "clip_group": '<clipPath id="c"><path d="M5 2H35L20 18Z"/></clipPath><g clip-path="url(#c)"><rect x="1" y="1" width="17" height="18"/>'
    '<circle cx="28" cy="7" r="6"/></g>',
    "clip_several": '<clipPath id="c"><circle cx="12" cy="10" r="6"/><rect x="15" y="3" width="18" height="9"/></clipPath>'
    '<rect width="40" height="20" clip-path="url(#c)"/>',
    "clip_rule": f'<clipPath id="c"><path clip-rule="evenodd" d="{STAR}"/></clipPath>'
    '<rect width="40" height="20" clip-path="url(#c)"/>',
    "clip_stroke": f'<clipPath id="c"><circle cx="20" cy="10" r="8"/></clipPath><path {PEN} clip-path="url(#c)" d="M8 4 32 16M8 16 32 4"/>',
    "clip_moved": '<clipPath id="c" transform="translate(10 0)"><circle cx="10" cy="10" r="7" transform="scale(1 .8)"/></clipPath>'
    '<g transform="rotate(10)"><rect width="40" height="20" clip-path="url(#c)"/></g>',
    "clip_of_extent": '<clipPath id="c" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".5"/></clipPath>'
    '<rect x="4" y="3" width="30" height="12" clip-path="url(#c)"/>',
    "clip_nested": '<clipPath id="a"><rect x="5" y="5" width="20" height="12"/></clipPath>'
    '<clipPath id="b" clip-path="url(#a)"><circle cx="20" cy="8" r="7"/></clipPath>'
    '<rect width="40" height="20" clip-path="url(#b)"/>',
    "clip_within_clip": '<clipPath id="a"><rect x="5" y="5" width="20" height="12"/></clipPath>'
    '<clipPath id="b"><circle cx="20" cy="8" r="7"/></clipPath>'
    '<g clip-path="url(#a)"><rect width="40" height="20" clip-path="url(#b)"/></g>',
    "clip_by_use": '<defs><path id="p" d="M0 0h20l-10 14z"/></defs><clipPath id="c"><use href="#p" x="10" y="2"/></clipPath>'
    '<rect width="40" height="20" clip-path="url(#c)"/>',
    "clip_overlapping_outline": f'<clipPath id="c"><rect x="12" y="0" width="12" height="20"/></clipPath>'
    f'<path d="{STAR}" fill-rule="evenodd" clip-path="url(#c)"/>',
    # mixed
    "mixed_badge": '<style>.l{fill:none;stroke:black}.r{stroke-linecap:round;stroke-linejoin:round}</style>'
    '<g transform="translate(20 10)"><circle class="l" r="9" stroke-width=".8"/><circle class="l" r="7.6" stroke-width=".3" '
    'stroke-dasharray="1 .6"/><path class="l r" stroke-width="1.4" d="M-4 0 -1 3 5 -4"/></g>',
    "mixed_sprites": '<symbol id="leaf" viewBox="-5 -5 10 10"><path d="M-5 5C-5 -5 5 -5 5 -5S5 5 -5 5Z"/><path d="M-4 4 3 -3" '
    'fill="none" stroke="white" stroke-width=".6"/></symbol><g transform="rotate(-8 20 10)">'
    '<use href="#leaf" x="3" y="3" width="10" height="10"/><use href="#leaf" x="15" y="3" width="10" height="14"/>'
    '<use href="#leaf" x="27" y="5" width="9" height="9" transform="rotate(20 31 9)"/></g>',
    "mixed_clipped_dashes": f'<clipPath id="c"><ellipse cx="20" cy="10" rx="15" ry="7"/></clipPath><g clip-path="url(#c)">'
    f'<path {PEN} stroke-dasharray="2 1" d="M0 4H40M0 8H40M0 12H40M0 16H40" transform="rotate(12 20 10)"/></g>',
    "mixed_nested_clip": '<svg x="4" y="2" width="32" height="16" viewBox="0 0 16 16" preserveAspectRatio="xMidYMid slice">'
    f'<clipPath id="c"><circle cx="8" cy="8" r="5"/></clipPath><g clip-path="url(#c)" {PEN}><path d="M0 0 16 16M16 0 0 16"/></g></svg>',
}  # fmt: skip

PAGES = {
    "units_mm": HEAD + 'width="4cm" height="2cm"><rect x="5mm" y=".2cm" width="1in" height="36pt"/></svg>',
    "px_page": HEAD + 'width="400" height="200"><path d="M20 20H380L200 180Z"/></svg>',
    "view_box_only": HEAD + 'viewBox="-20 -10 40 20"><circle r="9"/></svg>',
    "view_box_offset": HEAD + 'width="80" height="40" viewBox="100 50 8 4"><path d="M101 51h6l-3 2z"/></svg>',
    "ratio_mid": HEAD + 'width="40mm" height="20mm" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></svg>',
    "ratio_max": HEAD + 'width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMid">'
    '<circle cx="5" cy="5" r="5"/></svg>',
    "ratio_none": HEAD + 'width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="none">'
    '<circle cx="5" cy="5" r="3" fill="none" stroke="black" stroke-width="2"/></svg>',
    "ratio_slice": HEAD + 'width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="xMidYMid slice">'
    '<circle cx="5" cy="5" r="4"/></svg>',
    "width_only": HEAD + 'width="60mm" viewBox="0 0 6 3"><path d="M0 0H6L0 3Z"/></svg>',
    "line_not_scaled": HEAD + 'width="800" height="400" viewBox="0 0 40 20"><g transform="scale(2 1)">'
    '<path vector-effect="non-scaling-stroke" fill="none" stroke="black" stroke-width="20" '
    'stroke-dasharray="60 30" d="M2 3H17V15L4 9"/></g></svg>',
}  # fmt: skip

DRAWINGS = {name: f"{PAGE}{body}</svg>" for name, body in BODIES.items()} | PAGES

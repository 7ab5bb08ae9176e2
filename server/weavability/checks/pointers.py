"""Fields of an order at which the checks of several subjects point."""

from __future__ import annotations

from typing import Final

WEAVE: Final = "/construction/weave"
SETT: Final = "/construction/warp/ends_per_cm"
PICKS: Final = "/construction/weft/picks_per_cm"
DENTS: Final = "/construction/reed/dents_per_10cm"
ENDS_PER_DENT: Final = "/construction/reed/ends_per_dent"
WEFT_ORDER: Final = "/construction/weft/order"
WIDTH: Final = "/construction/width_cm"
LENGTH: Final = "/construction/length_m"
SPEED: Final = "/construction/requested_speed_picks_per_min"
THREADING: Final = "/construction/draft/threading"
DESIGN: Final = "/construction/weave/design"
PICTURE: Final = DESIGN + "/picture_png"
EFFECTS: Final = DESIGN + "/effects"
WEFTS: Final = DESIGN + "/wefts"
LIMITS: Final = DESIGN + "/float_limits"

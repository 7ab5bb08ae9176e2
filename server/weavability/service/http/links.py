"""Links that need no memory: the technical request itself, packed into an address."""

from __future__ import annotations

import binascii
import zlib
from base64 import b64decode, urlsafe_b64encode
from typing import Final

from weavability.service.http import problems
from weavability.service.http.json_bodies import parse
from weavability.service.http.problems import ProblemError
from weavability.textiles.sentences import Sentence, say

LONGEST_TOKEN: Final = 3_500
LONGEST_REQUEST: Final = 64 * 2**10
"""Longest canonical request that is packed, and the most that is ever unpacked."""

VERSION: Final = "v1."
_LEVEL: Final = 6

# What nearly every request says, so that a link need not; the commonest is last. It belongs
# to the version: once links are in use, another dictionary needs another version prefix.
_DICTIONARY_V1: Final = (
    b'"image_png":"stripes":[{"tie_up":"treadling":"lift_plan":"threading":[1,2,3,4],'
    b'"folding_take_up_pct":"breaking_elongation_pct":"strength_cv_pct":"tenacity_cn_per_tex":'
    b'"diameter_mm":"packing_fraction":"fibre_density_g_per_cm3":"linear_density_tex":'
    b'"allowances":{"loom_waste_m":"size_pct":"warp_waste_pct":"weft_waste_pct":'
    b'"relaxation_pct":"stabilised":true"panel_gap_cm":"panels":"length_yd":"width_in":'
    b'"ends_per_in":"picks_per_in":"water_jet""air_jet""projectile""shuttle""cam""jacquard"'
    b'"hooks":"ends_per_hook":"harness_ends_per_cm":"selvedge_hooks":"max_repeat_picks":'
    b'"carrier_length_cm":"extra_weft_cm":"free_weft_length_m":"base_tension_cn_per_tex":'
    b'"max_feeder_speed_m_per_min":"overrun_cm":"transfer_deg":180"rapiers":"double"'
    b'"warp_stops_per_100k_picks":"weft_stops_per_100k_picks":"minutes_per_warp_stop":'
    b'"minutes_per_weft_stop":"looms_per_weaver":"density_g_per_cm3":"loom_state""finished"'
    b"polyester viscose worsted wool linen silk polyamide tex dtex Nm Ne "
    b'"loom":{"cloth_roll_diameter_cm":"insertion":{"entry_deg":70,"exit_deg":290,'
    b'"max_rate_m_per_min":"motion_law":"modified_sine","system":"rapier"},"loom_id":'
    b'"max_speed_picks_per_min":"max_tightness_pct":"min_reed_width_cm":'
    b'"picks_per_cm":{"max":80,"min":4},"reed_width_cm":190,'
    b'"reeds_in_stock_dents_per_10cm":[120,140,160,180],"running":{"efficiency_pct":88},'
    b'"shedding":{"kind":"dobby","max_healds_per_cm_per_shaft":10,"max_healds_per_shaft":'
    b'"max_pattern_picks":6400,"max_speed_picks_per_min":600,"shafts":20},'
    b'"speed_curve":[{"picks_per_min":620,"reed_width_cm":140},{"picks_per_min":560,'
    b'"reed_width_cm":190}],"warp_beam":{"barrel_diameter_cm":20,"count":1,'
    b'"flange_diameter_cm":100,"width_cm":},"weft_selectors":8,"weft_tex":{"max":500,"min":7}}}'
    b'{"construction":{"draft":{"threading":"straight"},"finishing":{"length_shrinkage_pct":3,'
    b'"width_shrinkage_pct":4},"length_m":3000,"reed":{"dents_per_10cm":160,"ends_per_dent":2},'
    b'"requested_speed_picks_per_min":520,"selvedge":{"ends_per_dent":"ends_per_side":24,'
    b'"shafts":2},"stage":"grey","warp":{"crimp_pct":8,"ends_per_cm":32,"order":"24A 4B",'
    b'"yarns":{"A":{"colour":"#","designation":"Ne 40/2","fibre":"cotton"},"B":{"colour":"#",'
    b'"designation":"Ne 30","fibre":"cotton"}}},"weave":"2/2 twill Z","weave":{"rows":["1100",'
    b'"0110"]},"weave":"plain","weft":{"crimp_pct":5,"picks_per_cm":24,"yarns":{"A":'
    b'{"designation":"Ne 20","fibre":"cotton"}}},"width_cm":152},"loom_id":"'
)


def pack(request: bytes) -> str | None:
    """Pack a canonical request into a token; ``None`` if it is too long for an address.

    >>> token = pack(b'{"loom_id":"L1"}')
    >>> token.startswith("v1.") and unpack(token)
    {'loom_id': 'L1'}
    """
    if len(request) > LONGEST_REQUEST:
        return None
    packer = zlib.compressobj(level=_LEVEL, wbits=-zlib.MAX_WBITS, zdict=_DICTIONARY_V1)
    packed = packer.compress(request) + packer.flush()
    # The check value shows that a link is mangled; deflate alone need not notice.
    sealed = packed + zlib.crc32(request).to_bytes(4, "big")
    token = VERSION + urlsafe_b64encode(sealed).rstrip(b"=").decode()
    return token if len(token) <= LONGEST_TOKEN else None


def unpack(token: str) -> object:
    """Return the request of a token, not yet judged.

    Raises:
        ProblemError: 404, the token is none of ours or is damaged; 400, it holds something else.
    """
    return parse(opened(token))


def opened(token: str) -> bytes:
    """Return what a token holds: a request in canonical form, if the service made the token.

    Raises:
        ProblemError: 404, the token is none of ours or is damaged.
    """
    if not token.startswith(VERSION) or len(token) > LONGEST_TOKEN:
        raise _unknown(
            say(
                "part.link_of_unknown_version",
                "it does not begin with a known version, or is too long",
            )
        )
    body = token.removeprefix(VERSION)
    try:
        sealed = b64decode(body + "=" * (-len(body) % 4), altchars=b"-_", validate=True)
        unpacker = zlib.decompressobj(wbits=-zlib.MAX_WBITS, zdict=_DICTIONARY_V1)
        request = unpacker.decompress(sealed[:-4], LONGEST_REQUEST)
    except (binascii.Error, ValueError, zlib.error):
        raise _unknown(say("part.link_damaged", "it is damaged")) from None
    if not unpacker.eof or zlib.crc32(request).to_bytes(4, "big") != sealed[-4:]:
        raise _unknown(say("part.link_incomplete", "it is damaged or incomplete"))
    return request


def _unknown(why: Sentence) -> ProblemError:
    return ProblemError(
        kind=problems.NOT_FOUND,
        detail=say(
            "problem.link_not_opened",
            "This link cannot be opened: {why}. Copy all of it, or send the order again.",
            why=why,
        ),
    )

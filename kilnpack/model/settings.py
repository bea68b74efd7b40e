"""Works settings: every number of the trade's rules, with the default used where a works says nothing.

Ids in the comments are those of docs/method/rules.md. Stage-dependent numbers have one field per stage.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ShareRule(StrEnum):
    """What the energy that no single lot causes is shared by."""

    VOLUME = "occupied setting volume"
    MASS = "mass"
    AREA = "shelf area"


class PlanGoal(StrEnum):
    """What plans are told apart by once they are equally late."""

    ENERGY = "energy"
    FIRINGS = "firings"
    FINISH = "finish"
    SETS = "sets"
    SPLITS = "splits"


GOAL_ORDER = (PlanGoal.ENERGY, PlanGoal.FIRINGS, PlanGoal.FINISH, PlanGoal.SETS, PlanGoal.SPLITS)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksSettings:
    """Numbers a works may set. All are common practice unless docs/method/rules.md names a source."""

    currency: str = "EUR"
    # furniture
    overshoot_k: float = 10.0  # F1
    posts_end_to_end_most: int = 2  # F3
    single_post_slender_ratio: float = 8.0  # F3
    joined_post_slender_ratio: float = 6.0  # F3
    post_spread_mm: float = 1.0  # F4
    post_offset_mm: float = 5.0  # F6
    post_inset_mm: float = 25.0  # F7: least distance of a post from the shelf edge
    strength_share: float = 0.1  # F9, hot strength
    cold_strength_share: float = 0.05  # F9, where only cold strength is known
    shelf_wall_electric_mm: float = 13.0  # F10
    shelf_wall_gas_mm: float = 25.0  # F10
    shelf_gap_mm: float = 5.0  # F10
    flat_bow_mm: float = 1.0  # F12
    balance_share: float = 0.1  # F13
    tier_allowance_mm: float = 2.0  # F15
    # clearances
    gap_biscuit_mm: float = 0.0  # C1
    gap_glost_mm: float = 6.0  # C1
    gap_decoration_mm: float = 6.0  # C1
    gap_decoration_hot_mm: float = 12.0  # C1
    soft_margin_k: float = 50.0  # C1
    post_gap_biscuit_mm: float = 2.0  # C2
    post_gap_mm: float = 6.0  # C2
    headroom_mm: float = 13.0  # C3
    ware_wall_electric_mm: float = 50.0  # C4
    ware_wall_gas_mm: float = 25.0  # C4
    thermocouple_mm: float = 50.0  # C5
    bottom_clear_mm: float = 25.0  # C6
    bottom_clear_hot_mm: float = 50.0  # C6: over an element, burner or vent
    top_clear_mm: float = 25.0  # C6
    cone_width_mm: float = 80.0  # C7
    cone_depth_mm: float = 40.0  # C7
    cone_height_mm: float = 80.0  # C7
    pack_away_least_mm: float = 200.0  # C7: from the peephole to the middle of its pack
    pack_away_most_mm: float = 300.0  # C7
    glost_packs_least: int = 2  # C7
    flame_open_share: float = 0.25  # C9
    car_edge_mm: float = 50.0  # C10
    hot_growth_mm: float = 2.0  # C11
    placing_mm: float = 3.0  # C12
    size_scatter_share: float = 0.01  # W1: every piece may be this much larger than drawn
    # ware
    foot_edge_mm: float = 5.0  # W2
    overhang_most_mm: float = 0.0  # W2
    nest_loose_mm: float = 4.0  # W4
    stilt_overhang_mm: float = 100.0  # W7
    hard_porcelain_degc: float = 1300.0  # W7: above it no glost ware stands on stilts
    large_flat_mm: float = 300.0  # W11
    pin_flat_mm: float = 250.0  # W11
    turn_step_deg: float = 15.0  # W12
    settings_most: int = 12  # W14
    settings_per_ware_most: int = 6  # W14: different settings in which ware of one form stands
    refires_apart: bool = False  # T9: refires in loads of their own
    # heat
    offset_spread_k: float = 10.0  # Z1
    excluded_vapours: tuple[tuple[str, str], ...] = (
        ("chrome", "tin white"),
        ("copper", "plain"),
        ("lead", "plain"),
        ("cadmium", "plain"),
    )  # Z5
    tier_mass_ratio: float = 2.0  # Z6
    side_mass_ratio: float = 1.3  # Z6
    # time
    rest_after_biscuit_h: float = 24.0  # T2
    raw_drying_h: float = 72.0  # T1
    glaze_drying_h: float = 24.0  # T6
    raw_handling_s: float = 20.0  # T7
    glazed_handling_s: float = 45.0  # T7
    shelf_handling_s: float = 240.0  # T7
    unloading_share: float = 0.5  # T7
    scrap_biscuit_share: float = 0.03  # T8
    scrap_glost_share: float = 0.08  # T8
    scrap_decoration_share: float = 0.03  # T8
    second_glost_share: float = 0.0  # T8
    cleaning_h_per_shelf: float = 2.0 / 30.0  # T10
    drying_ramp_k_h: float = 50.0  # T4: raw ware up to 120 degC
    inversion_difference_k: float = 10.0  # T4: across a piece at 573 and 226 degC
    ramp_difference_k: float = 30.0  # T4: across a piece elsewhere
    # planning
    fire_hours_spread_share: float = 0.05  # spread (one sigma) of hours of fire and cooling; from memory
    loss_sample_pieces: float = 200.0  # pieces that losses were learnt from; 0: known for sure; from memory
    goal_order: tuple[PlanGoal, ...] = GOAL_ORDER  # of plans that are equally late the better one, the first goal first
    mwh_days: float = 1.0  # a MWh weighs as much as so many days that a line is late; from memory
    firing_days: float = 0.0  # a firing does
    set_waiting_days: float = 0.0  # a day that parts of a set wait for the others does
    split_line_days: float = 0.0  # a line whose ware is parted over several firings of a programme does
    moved_firing_days: float = 0.25  # a firing moved by planning anew weighs as much as so many late days; from memory
    # energy of a firing
    share_rule: ShareRule = ShareRule.VOLUME
    kaolinite_share: float = 0.5  # of the raw ware
    free_water_share: float = 0.01  # of the raw ware as set
    glost_melting_kj_kg: float = 80.0
    # money
    labour_money_per_h: float = 25.0
    furniture_wear_money_per_shelf: float = 0.0

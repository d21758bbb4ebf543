"""Which test notices that a defence is switched off: one a switch, the plainest that there is.

More tests may carry a row's mark: `python -m pytest -p defences_off --every --row L1 tests/cure` shows what each does.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

_CREDITED: Final = "faults/test_credited_time.py::"
PROOFS: Final[Mapping[str, str]] = {
    "L1": "cure/test_bay.py::test_a_sensor_is_silent_after_three_intervals",
    "L2": "cure/test_doubts.py::test_one_value_for_more_than_six_hours_is_not_believed",
    "L3.1": "ingest/test_screening.py::test_a_sentinel_is_refused_and_never_clipped",
    "L3.2": "cure/test_erratic.py::"
    "test_a_declared_error_value_away_from_both_neighbours_is_as_if_nothing_had_been_said",
    "L4": "cure/test_doubts.py::test_the_warmer_of_two_sensors_of_one_zone_is_told_and_the_colder_governs",
    "L5.1": "cure/test_placing.py::test_a_sensor_that_says_what_the_air_says_earns_nothing",
    "L5.2": "cure/test_doubts.py::"
    "test_readings_that_jump_up_and_down_are_not_concrete_and_corrupted_ones_cost_only_themselves",
    "L5.3": "cure/test_castin.py::test_a_logger_in_the_air_never_has_more_than_two_hours_to_its_credit",
    "L6": "cure/test_placing.py::test_48_hours_of_warm_readings_before_the_pour_earn_nothing",
    "L7": "cure/test_placing.py::test_loggers_swapped_between_two_bays_are_a_doubt_in_both",
    "L8": "cure/test_bay.py::"
    "test_readings_before_a_sensor_came_to_the_bay_and_after_the_pour_was_closed_belong_to_nobody",
    "L10.1": "cure/test_watch.py::test_conflicting_readings_more_than_a_degree_apart_hold_the_pour",
    "L10.2": "contracts/test_readings_contract.py::test_another_value_for_a_key_keeps_the_colder_and_names_the_pair",
    "L12": f"{_CREDITED}test_reboots_other_intervals_resends_and_losses_never_credit_more_than_wall_time",
    "L13.1": "cure/test_accumulate.py::test_a_gap_is_credited_by_its_length",
    "L13.2": "cure/test_erratic.py::test_another_interval_than_the_one_set_up_is_told_and_takes_nothing",
    "L15": "cure/test_placing.py::test_an_air_channel_that_feels_the_placing_is_exchanged_with_one_that_does_not",
    "L16.1": "ingest/test_screening.py::test_centidegrees_and_kelvin_for_23_45_are_refused",
    "L16.2": "cure/test_erratic.py::test_68_for_20_in_the_midst_of_a_record_is_a_unit_that_slipped_until_it_slips_back",
    "R3.1": "ingest/test_intake_formats.py::"
    "test_a_buffer_that_comes_in_a_burst_is_refused_whole_in_one_batch_or_in_many",
    "R3.2": "ingest/test_intake_formats.py::test_what_a_broker_may_have_kept_has_no_hour_and_never_counts",
    "R3.3": "ingest/test_arrival.py::"
    "test_values_under_way_for_less_than_an_interval_never_make_more_maturity_than_the_concrete_has",
    "R3.4": "cure/test_erratic.py::test_what_was_held_back_and_stamped_when_it_arrived_counts_for_nothing",
    "R4.1": "ingest/test_replays.py::test_a_buffer_played_again_with_new_hours_is_refused",
    "R4.2": "ingest/test_replays.py::"
    "test_a_buffer_of_before_the_loggers_last_start_played_again_is_refused_and_the_new_start_goes_on",
    "R8": "cure/test_erratic.py::test_a_single_reading_above_both_its_neighbours_earns_nothing_and_is_kept",
    "N3": "ingest/test_intake.py::test_after_a_crash_at_any_step_the_redelivery_stores_tells_and_keeps_the_conflict",
    "N4": "ingest/test_listener.py::test_an_acknowledgement_never_crosses_a_reconnect",
    "N9": "ingest/test_screening.py::test_a_sensor_that_was_never_placed_is_unknown_whatever_it_says",
    "S1": "shared/store/test_influx_server.py::test_an_acknowledgement_without_the_reading_is_an_error",
    "S6": "contracts/test_book_service.py::test_damage_in_the_books_own_file_is_found",
    "S7": "shared/store/test_chain.py::test_an_older_book_put_back_is_found_by_any_anchor_of_the_newer_one",
    "S8.1": "shared/store/test_codec.py::test_what_is_no_json_is_refused",
    "S8.2": "faults/test_sqlite_outages.py::test_a_point_that_cannot_be_taken_is_written_down_and_holds_up_no_other",
    "S11": "contracts/test_readings_contract.py::test_another_value_for_a_key_keeps_the_colder_and_names_the_pair",
    "C1.1": f"{_CREDITED}test_a_clock_that_runs_twice_as_fast_earns_no_hour_before_it_has_passed",
    "C1.2": "cure/test_offbeat.py::test_what_a_clock_tells_that_runs_too_fast_earns_nothing",
    "C2": "ingest/test_screening.py::test_a_time_is_kept_from_14_days_back_to_2_minutes_ahead",
    "C3": "ingest/test_intake.py::test_a_time_in_the_future_does_not_ripen",
    "C4": "shared/models/test_acts.py::test_an_hour_without_a_zone_is_refused",
    "C5": "ingest/payloads/test_senml.py::test_a_bad_record_is_refused_with_its_reason_and_its_neighbours_are_kept",
    "C6.1": "cure/test_rounds_clock.py::test_a_clock_that_jumps_suspends_every_gate_in_the_same_round",
    "C6.2": "cure/test_rounds_clock.py::test_elapsed_time_since_the_pours_end_does_not_jump_with_the_clock",
    "C7.1": "cure/test_rounds_clock.py::test_a_clock_that_jumps_suspends_every_gate_in_the_same_round",
    "C7.2": "cure/test_scheduler.py::test_ticks_go_on_whatever_hour_the_wall_clock_is_set_to",
    "C7.3": "cure/test_bay.py::test_an_age_is_never_negative",
    "C10": "alerts/test_hours.py::test_both_nights_of_the_clock_change_show_the_right_offset",
    "E1": "cure/test_accumulate.py::test_a_gap_without_a_whole_air_record_earns_nothing",
    "E2": "cure/test_bay_properties.py::test_only_whole_milliseconds_within_the_pour_and_its_placements_are_credited",
    "E3.1": "cure/test_bay_properties.py::test_what_is_not_a_number_anywhere_in_the_sums_raises_nothing",
    "E3.2": "cure/test_requirements.py::test_what_is_no_number_is_never_met_and_reads_not_known",
    "E4": "cure/test_rounds.py::test_a_pour_that_cannot_be_judged_keeps_its_gates_and_does_not_stop_the_others",
    "E5": "cure/test_press.py::test_the_end_binds_the_pour_to_the_calibration_of_that_hour",
    "E6": "cure/test_assess_operations.py::"
    "test_what_other_code_released_is_judged_anew_by_this_and_withdrawn_when_this_finds_less",
    "E7.1": "cure/test_bound.py::test_below_the_tested_range_it_is_zero_and_above_it_is_held",
    "E7.2": "cure/test_bound.py::test_below_the_tested_range_it_is_zero_and_above_it_is_held",
    "E8.1": "cure/test_bay.py::test_the_bound_is_that_of_the_coldest_zone_alone_however_warm_the_others_are",
    "E8.2": "cure/test_bay.py::test_an_hour_counts_only_when_every_zone_is_warm_in_it",
    "E8.3": "cure/test_bay_properties.py::test_the_coldest_sensor_governs_every_number_and_never_the_mean_or_the_best",
    "E9": "cure/test_requirements.py::test_the_stricter_of_each_pair_is_stored",
    "E10": "contracts/test_book_cure.py::test_a_result_on_a_case_that_moved_is_refused_and_leaves_nothing",
    "E11": "cure/test_assess_released.py::test_freezing_found_after_a_release_withdraws_it",
    "E12.1": "cure/test_bay_properties.py::"
    "test_no_more_is_credited_than_checked_time_whatever_the_wall_clock_and_the_loggers_say",
    "E12.2": "cure/test_bay_properties.py::test_credit_for_more_hours_than_have_passed_is_no_credit_at_all",
    "E13": "cure/test_assess_released.py::test_late_colder_readings_withdraw_a_release",
    "O1.1": "cure/test_entered.py::test_a_ticket_with_another_mix_is_a_hold_of_qc_and_no_check",
    "O1.2": "cure/test_entered.py::test_a_mix_is_changed_by_two_people_to_one_of_the_sites",
    "O2.1": "cure/test_placing.py::"
    "test_credit_starts_when_the_sensor_is_cast_in_and_that_long_after_the_end_is_a_doubt",
    "O2.2": "cure/test_press.py::test_an_end_moved_earlier_needs_a_second_person_of_the_desk",
    "O3": "cure/test_clockstart.py::test_a_pour_placed_against_another_one_starts_its_clock_with_the_last_end_of_both",
    "O4": "cure/test_placing.py::test_loggers_swapped_between_two_bays_are_a_doubt_in_both",
    "O5": "cure/test_doubts.py::test_what_does_not_begin_as_fresh_concrete_is_not_counted",
    "O6.1": "cure/test_acts.py::test_a_requirement_is_written_by_nobody_else_and_by_nobody_alone",
    "O6.2": "cure/test_acts.py::"
    "test_the_engineer_writes_a_requirement_with_a_second_person_and_the_log_says_it_in_words",
    "O7": "cure/test_press_evidence.py::test_no_act_in_any_state_releases_what_is_not_met",
    "O8": "cure/test_press_signing.py::test_where_each_role_signs_it_takes_one_person_of_each",
    "O9": "cure/test_assess.py::test_a_signature_is_judged_on_the_evidence_at_the_press",
    "O12": "alerts/test_wording.py::test_every_text_says_where_it_is_about_and_when",
    "O14": "cure/test_lowering.py::test_an_easier_plan_after_the_first_reading_is_a_hold_of_the_engineer",
    "A4.1": "alerts/test_dispatcher.py::"
    "test_a_release_whose_gate_moves_while_it_is_sent_is_given_up_and_its_withdrawal_follows",
    "A4.2": "alerts/test_dispatcher_withdrawals.py::"
    "test_a_release_that_may_have_come_out_after_its_withdrawal_is_followed_by_it_again",
    "A5": "alerts/test_dispatcher.py::test_a_release_that_waited_for_its_server_is_not_sent_after_its_withdrawal",
    "A6.1": "alerts/test_dispatcher_withdrawals.py::"
    "test_a_withdrawal_repeats_every_five_minutes_until_a_person_confirms",
    "A6.2": "alerts/test_dispatcher_escalation.py::test_an_answer_of_anybody_ends_it",
    "A7": "contracts/test_book_cure.py::test_a_state_whose_message_cannot_be_written_is_not_written_either",
    "A12": "alerts/test_wording.py::test_the_verdict_stands_in_the_first_twelve_characters",
    "A13.1": "alerts/test_dispatcher_reordered.py::"
    "test_however_a_provider_orders_them_the_withdrawal_is_read_last_and_says_what_it_replaces",
    "A13.2": "alerts/test_dispatcher_reordered.py::"
    "test_however_a_provider_orders_them_the_withdrawal_is_read_last_and_says_what_it_replaces",
    "A14": "cure/test_assess_operations.py::test_after_a_withdrawal_nothing_opens_by_itself",
    "A15": "alerts/test_acts.py::"
    "test_a_test_goes_to_each_channel_of_its_recipient_at_once_and_can_be_taken_for_nothing_else",
    "A16": "alerts/test_wording.py::test_every_text_says_where_it_is_about_and_when",
    "A18": "alerts/test_acts.py::test_only_an_act_confirms_and_reading_changes_nothing",
}

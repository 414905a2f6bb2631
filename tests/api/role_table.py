"""Who may do what: every operation, the right it takes, and each role's answer, written out by hand.

A new operation needs a row here before it is let in. "anybody": whoever signs in, at whatever site;
"superuser": no role suffices.
"""

from __future__ import annotations

from dataclasses import dataclass

from findings.kinds.calculations import CALCULATIONS

ROLES = ("inspector", "planner", "technician", "manager", "integrator")

TABLE = """
operation                         right             inspector  planner  technician  manager  integrator
api_key_create                    anybody           yes        yes      yes         yes      yes
api_key_list                      anybody           yes        yes      yes         yes      yes
api_key_read                      anybody           yes        yes      yes         yes      yes
api_key_revoke                    anybody           yes        yes      yes         yes      yes
area_change                       register          no         yes      no          yes      yes
area_create                       register          no         yes      no          yes      yes
area_list                         view              yes        yes      yes         yes      yes
area_read                         view              yes        yes      yes         yes      yes
asset_batch                       register          no         yes      no          yes      yes
asset_change                      register          no         yes      no          yes      yes
asset_create                      register          no         yes      no          yes      yes
asset_decommission                register          no         yes      no          yes      yes
asset_list                        view              yes        yes      yes         yes      yes
asset_list_subtree                view              yes        yes      yes         yes      yes
asset_read                        view              yes        yes      yes         yes      yes
asset_recommission                register          no         yes      no          yes      yes
assessment_recomputation_list     view              yes        yes      yes         yes      yes
assessment_recomputation_read     view              yes        yes      yes         yes      yes
bearing_particulars_create        register          no         yes      no          yes      yes
bearing_particulars_list          view              yes        yes      yes         yes      yes
bearing_particulars_read          view              yes        yes      yes         yes      yes
bearing_particulars_void          register          no         yes      no          yes      yes
calculation_list                  anybody           yes        yes      yes         yes      yes
calendar_feed_create              view              yes        yes      yes         yes      yes
calendar_feed_list                view              yes        yes      yes         yes      yes
calendar_feed_read                view              yes        yes      yes         yes      yes
calendar_feed_revoke              view              yes        yes      yes         yes      yes
calendar_feed_rotate              view              yes        yes      yes         yes      yes
calibration_fit_list              view              yes        yes      yes         yes      yes
calibration_leak_create           record            yes        yes      yes         yes      yes
calibration_leak_list             view              yes        yes      yes         yes      yes
calibration_leak_read             view              yes        yes      yes         yes      yes
calibration_leak_void             assess            yes        yes      no          yes      no
compressor_change                 register          no         yes      no          yes      yes
compressor_create                 register          no         yes      no          yes      yes
compressor_list                   view              yes        yes      yes         yes      yes
compressor_read                   view              yes        yes      yes         yes      yes
condition_overrule                assess            yes        yes      no          yes      no
connection_create                 register          no         yes      no          yes      yes
connection_end                    register          no         yes      no          yes      yes
connection_list                   view              yes        yes      yes         yes      yes
connection_read                   view              yes        yes      yes         yes      yes
dated_value_create                prices            no         yes      no          yes      no
dated_value_list                  view              yes        yes      yes         yes      yes
dated_value_read                  view              yes        yes      yes         yes      yes
dated_value_void                  prices            no         yes      no          yes      no
deferral_approve                  approve_deferral  no         no       no          yes      no
deferral_create                   defer             yes        yes      yes         yes      no
deferral_end                      approve_deferral  no         no       no          yes      no
deferral_list                     view              yes        yes      yes         yes      yes
deferral_read                     view              yes        yes      yes         yes      yes
deferral_refuse                   approve_deferral  no         no       no          yes      no
electrical_qualification_create   members           no         no       no          yes      no
electrical_qualification_list     view              yes        yes      yes         yes      yes
electrical_qualification_read     view              yes        yes      yes         yes      yes
electrical_qualification_void     members           no         no       no          yes      no
escalation_list                   view              yes        yes      yes         yes      yes
escalation_take                   close_by_reason   no         no       no          yes      no
finding_act_list                  view              yes        yes      yes         yes      yes
finding_assessment_list           view              yes        yes      yes         yes      yes
finding_condition_list            view              yes        yes      yes         yes      yes
finding_list                      view              yes        yes      yes         yes      yes
finding_move                      assess            yes        yes      no          yes      no
finding_move:close_by_reason      close_by_reason   no         no       no          yes      no
finding_move:classify             assess            yes        yes      no          yes      no
finding_move:merge                assess            yes        yes      no          yes      no
finding_move:reinstate            assess            yes        yes      no          yes      no
finding_move:reopen               assess            yes        yes      no          yes      no
finding_move:separate             assess            yes        yes      no          yes      no
finding_read                      view              yes        yes      yes         yes      yes
finding_reading_list              view              yes        yes      yes         yes      yes
finding_segment_list              view              yes        yes      yes         yes      yes
good_state_create                 assess            yes        yes      no          yes      no
good_state_list                   view              yes        yes      yes         yes      yes
good_state_read                   view              yes        yes      yes         yes      yes
good_state_void                   assess            yes        yes      no          yes      no
grease_advice_read                view              yes        yes      yes         yes      yes
greasing_create                   record            yes        yes      yes         yes      yes
greasing_list                     view              yes        yes      yes         yes      yes
greasing_read                     view              yes        yes      yes         yes      yes
greasing_void                     assess            yes        yes      no          yes      no
import_create                     record            yes        yes      yes         yes      yes
import_list                       view              yes        yes      yes         yes      yes
import_read                       view              yes        yes      yes         yes      yes
import_try                        record            yes        yes      yes         yes      yes
instrument_change                 register          no         yes      no          yes      yes
instrument_create                 register          no         yes      no          yes      yes
instrument_list                   view              yes        yes      yes         yes      yes
instrument_read                   view              yes        yes      yes         yes      yes
instrument_record_calibration     record            yes        yes      yes         yes      yes
job_list                          jobs              no         yes      no          yes      no
job_run                           jobs              no         yes      no          yes      no
leak_balance_read                 view             yes        yes      yes         yes      yes
leak_test_create                  record           yes        yes      yes         yes      yes
leak_test_list                    view             yes        yes      yes         yes      yes
leak_test_read                    view             yes        yes      yes         yes      yes
leak_test_void                    assess           yes        yes      no          yes      no
logbook_check                     members           no         no       no          yes      no
logbook_entry_list                view              yes        yes      yes         yes      yes
logbook_entry_read                view              yes        yes      yes         yes      yes
mail_list                         jobs              no         yes      no          yes      no
mail_retry                        jobs              no         yes      no          yes      no
mapping_change                    record            yes        yes      yes         yes      yes
mapping_create                    record            yes        yes      yes         yes      yes
mapping_list                      view              yes        yes      yes         yes      yes
mapping_read                      view              yes        yes      yes         yes      yes
me_read                           anybody           yes        yes      yes         yes      yes
measuring_point_batch             register          no         yes      no          yes      yes
measuring_point_change            register          no         yes      no          yes      yes
measuring_point_create            register          no         yes      no          yes      yes
measuring_point_list              view              yes        yes      yes         yes      yes
measuring_point_read              view              yes        yes      yes         yes      yes
membership_create                 members           no         no       no          yes      no
membership_end                    members           no         no       no          yes      no
membership_list                   view              yes        yes      yes         yes      yes
membership_read                   view              yes        yes      yes         yes      yes
month_close                       jobs              no         yes      no          yes      no
month_lines                       view              yes        yes      yes         yes      yes
month_list                        view              yes        yes      yes         yes      yes
month_of_sites                    view              yes        yes      yes         yes      yes
month_read                        view              yes        yes      yes         yes      yes
pause_rule_change                 plan              no         yes     no          yes      yes
pause_rule_list                   view              yes        yes     yes         yes      yes
pause_rule_read                   view              yes        yes     yes         yes      yes
parked_item_list                  jobs              no         yes      no          yes      no
parked_item_release               jobs              no         yes      no          yes      no
point_condition_list              view              yes        yes      yes         yes      yes
notice_list                       view              yes        yes      yes         yes      yes
notice_preference_change          view              yes        yes      yes         yes      yes
notice_preference_read            view              yes        yes      yes         yes      yes
notice_read                       view              yes        yes      yes         yes      yes
notice_see                        view              yes        yes      yes         yes      yes
notice_take                       view              yes        yes      yes         yes      yes
opening_release_create            release_opening   yes        no       yes         yes      no
opening_release_list              view              yes        yes      yes         yes      yes
opening_release_read              view              yes        yes      yes         yes      yes
opening_release_void              release_opening   yes        no       yes         yes      no
panel_particulars_create          register          no         yes      no          yes      yes
panel_particulars_list            view              yes        yes      yes         yes      yes
panel_particulars_read            view              yes        yes      yes         yes      yes
panel_particulars_void            register          no         yes      no          yes      yes
reading_batch                     record            yes        yes      yes         yes      yes
reading_create                    record            yes        yes      yes         yes      yes
reading_list                      view              yes        yes      yes         yes      yes
reading_read                      view              yes        yes      yes         yes      yes
recording_create                  record            yes        yes      yes         yes      yes
recording_list                    view              yes        yes      yes         yes      yes
recording_picture_read            view              yes        yes      yes         yes      yes
recording_read                    view              yes        yes      yes         yes      yes
recording_sound_read              view              yes        yes      yes         yes      yes
recording_void                    assess            yes        yes      no          yes      no
route_change                      plan              no         yes      no          yes      yes
route_create                      plan              no         yes      no          yes      yes
route_list                        view              yes        yes      yes         yes      yes
route_read                        view              yes        yes      yes         yes      yes
route_stops_read                  view              yes        yes      yes         yes      yes
route_stops_replace               plan              no         yes      no          yes      yes
seam_create                       assess            yes        yes      no          yes      no
seam_list                         view              yes        yes      yes         yes      yes
seam_read                         view              yes        yes      yes         yes      yes
seam_walk_add_places              record            yes        yes      yes         yes      yes
seam_walk_create                  record            yes        yes      yes         yes      yes
seam_walk_finish                  record            yes        yes      yes         yes      yes
seam_walk_list                    view              yes        yes      yes         yes      yes
seam_walk_plan                    view              yes        yes      yes         yes      yes
seam_walk_read                    view              yes        yes      yes         yes      yes
service_level_change              plan              no         yes      no          yes      yes
service_level_create              plan              no         yes     no          yes      yes
service_level_list                view              yes        yes      yes         yes      yes
service_level_read                view              yes        yes      yes         yes      yes
site_change                       members           no         no       no          yes      no
site_create                       superuser         no         no       no          no       no
site_day_create                   plan              no         yes     no          yes      yes
site_day_list                     view              yes        yes     yes         yes      yes
site_day_read                     view              yes        yes     yes         yes      yes
site_day_void                     plan              no         yes     no          yes      yes
site_list                         view              yes        yes      yes         yes      yes
site_read                         view              yes        yes      yes         yes      yes
supply_system_change              register          no         yes      no          yes      yes
supply_system_create              register          no         yes      no          yes      yes
supply_system_list                view              yes        yes      yes         yes      yes
supply_system_read                view              yes        yes      yes         yes      yes
survey_create                     record            yes        yes      yes         yes      yes
survey_end                        record            yes        yes      yes         yes      yes
survey_list                       view              yes        yes      yes         yes      yes
survey_read                       view              yes        yes      yes         yes      yes
tariff_table_create               prices            no         yes      no          yes      no
tariff_table_list                 view              yes        yes      yes         yes      yes
tariff_table_read                 view              yes        yes      yes         yes      yes
tariff_table_void                 prices            no         yes      no          yes      no
verification_create               verify            yes        no       no          yes      no
verification_list                 view              yes        yes      yes         yes      yes
verification_read                 view              yes        yes      yes         yes      yes
visit_request_change              plan              no         yes      no          yes      yes
visit_request_create              plan              no         yes      no          yes      yes
visit_request_drop                plan              no         yes      no          yes      yes
visit_request_list                view              yes        yes      yes         yes      yes
visit_request_read                view              yes        yes      yes         yes      yes
wear_history_read                 view              yes        yes      yes         yes      yes
wear_judge_again                  assess            yes        yes      no          yes      no
wear_ladder_create                assess            yes        yes      no          yes      no
wear_ladder_in_force              view              yes        yes      yes         yes      yes
wear_ladder_list                  view              yes        yes      yes         yes      yes
wear_ladder_read                  view              yes        yes      yes         yes      yes
wear_ladder_void                  assess            yes        yes      no          yes      no
what_if_branch_shut_off           view             yes        yes      yes         yes      yes
what_if_branch_shut_off:area      view             yes        yes      yes         yes      yes
what_if_header_pressure           view             yes        yes      yes         yes      yes
what_if_repair_plan               view             yes        yes      yes         yes      yes
what_if_tariff_change             view             yes        yes      yes         yes      yes
work_order_change                 plan              no         yes      no          yes      yes
work_order_clocks_read            view              yes        yes     yes         yes      yes
work_order_create                 plan              no         yes      no          yes      yes
work_order_list                   view              yes        yes      yes         yes      yes
work_order_move                   repair            no         no       yes         yes      no
work_order_move:cancel            plan              no         yes      no          yes      yes
work_order_move:close             close_by_reason   no         no       no          yes      no
work_order_move:release           plan              no         yes      no          yes      yes
work_order_move:reopen            assess            yes        yes      no          yes      no
work_order_move:report_repair     repair            no         no       yes         yes      no
work_order_move:resume            plan              no         yes      no          yes      yes
work_order_move:schedule          plan              no         yes      no          yes      yes
work_order_move:wait              plan              no         yes      no          yes      yes
work_order_read                   view              yes        yes      yes         yes      yes
work_order_set_priority           plan              no         yes      no          yes      yes
working_calendar_read             view              yes        yes     yes         yes      yes
working_week_create               plan              no         yes     no          yes      yes
working_week_list                 view              yes        yes     yes         yes      yes
working_week_read                 view              yes        yes     yes         yes      yes
working_week_void                 plan              no         yes     no          yes      yes
"""


@dataclass(frozen=True)
class Row:
    """One operation, or one variant of it after a colon."""

    name: str
    right: str
    allowed: frozenset[str]

    @property
    def operation(self) -> str:
        """Return the operationId."""
        return self.name.partition(":")[0]

    @property
    def variant(self) -> str:
        """Return the variant's name, or an empty text."""
        return self.name.partition(":")[2]


def rows() -> list[Row]:
    """Return the table's rows."""
    found = [
        # A calculation sees its input alone, so whoever signs in may have it worked out.
        Row(f"calculate_{name.replace('-', '_')}", "anybody", frozenset(ROLES))
        for name in CALCULATIONS
    ]
    for line in TABLE.strip().splitlines()[1:]:
        name, right, *answers = line.split()
        assert len(answers) == len(ROLES), line
        assert set(answers) <= {"yes", "no"}, line
        allowed = frozenset(role for role, said in zip(ROLES, answers, strict=True) if said == "yes")
        found.append(Row(name, right, allowed))
    return found

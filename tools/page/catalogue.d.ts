// Written by TestCatalogueTypes of web/pages: go test ./web/pages -run CatalogueTypes -update

/** The texts of the scripts with their parameters. */
export interface Texts {
  "athlete.birth": { latest: string | number };
  "athlete.delete_visit": {};
  "athlete.gone": { list: string | number };
  "athlete.height": { least: string | number; most: string | number };
  "athlete.load": { least: string | number; most: string | number };
  "athlete.name": {};
  "athlete.no_history": {};
  "athlete.really": {};
  "athlete.visit_gone": { clips: string | number };
  "being_made": {};
  "change.by": { size: string | number; way: string | number };
  "change.less": {};
  "change.more": {};
  "change.same": {};
  "change.unknown": {};
  "change.within": { change: string | number; ends: string | number };
  "choose.chosen": { n: number };
  "choose.easier": {};
  "choose.easier_clip": { clip: string | number };
  "choose.how": {};
  "choose.moved": { clip: string | number; place: string | number };
  "choose.smallest": { least: string | number; most: string | number };
  "choose.too_many": {};
  "clip.at_frame": { frame: string | number; phase: string | number; time: string | number };
  "clip.being_measured": {};
  "clip.frame_of": { frame: string | number; frames: string | number };
  "clip.frames": { n: number };
  "clip.make": {};
  "clip.no_video": {};
  "clip.still": { phase: string | number; rep: string | number; tempo: string | number };
  "clip.support_nowhere": {};
  "clip.support_unknown": {};
  "clip.told": { frame: string | number; phase: string | number; time: string | number; values: string | number };
  "clip.told_angle": { angle: string | number; deg: string | number };
  "clip.type_number": {};
  "clip.video_drawn": {};
  "clip.without_numbers": {};
  "clip_file.analysis.json": {};
  "clip_file.annotated.mp4": {};
  "clip_file.annotated_blurred.mp4": {};
  "clip_file.keypoints.json": {};
  "clip_file.series.csv": {};
  "clip_file.track.json.gz": {};
  "clip_file.web.mp4": {};
  "close_message": {};
  "comparison.changed": {};
  "comparison.not_shown": {};
  "comparison.positions": {};
  "condition.clip.first": {};
  "condition.clip.second": {};
  "condition.clip.third": {};
  "condition.fast": {};
  "condition.fatigued": {};
  "condition.fresh": {};
  "condition.from_box": { cm: string | number };
  "condition.jump": {};
  "condition.loaded": {};
  "condition.of_movement": { movement: string | number; tempo: string | number };
  "condition.slow": {};
  "condition.with_load": { kg: string | number; of: string | number };
  "condition.with_setting": { of: string | number; setting: string | number };
  "correct.as_found": {};
  "correct.began": {};
  "correct.busy": {};
  "correct.by_hand": {};
  "correct.done": {};
  "correct.ended": {};
  "correct.floor": {};
  "correct.floor_anew": {};
  "correct.leave_out": {};
  "correct.not_changed": {};
  "correct.not_seen": {};
  "correct.set": {};
  "correct.set_time": { moment: string | number; rep: string | number };
  "correct.start": {};
  "correct.tempo_of": { rep: string | number };
  "correct.took": { time: string | number };
  "correct.turn_found": { deg: string | number };
  "correct.turn_given": {};
  "correct.turn_range": { least: string | number; most: string | number };
  "correct.undone": {};
  "correct.use_floor": {};
  "correct.use_turn": { deg: string | number };
  "count.clips": { n: number };
  "count.comparisons": { n: number };
  "count.files": { n: number; size: string | number };
  "count.reps": { n: number };
  "count.results": { n: number };
  "count.uploads": { n: number };
  "count.visits": { n: number };
  "crease.no": {};
  "crease.unclear": {};
  "crease.yes": {};
  "curves.angle_axis": {};
  "curves.beyond_at": { pct: string | number };
  "curves.beyond_from": {};
  "curves.bottom": {};
  "curves.end": {};
  "curves.foot_axis": {};
  "curves.handle": { moment: string | number; rep: string | number };
  "curves.none": {};
  "curves.of_part": { angle: string | number; part: string | number };
  "curves.of_part_only": { angle: string | number; condition: string | number; part: string | number };
  "curves.part_axis": { part: string | number };
  "curves.rep": { rep: string | number; tempo: string | number };
  "curves.rep_partial": { rep: string | number; tempo: string | number; why: string | number };
  "curves.rep_times": { from: string | number; rep: string | number; tempo: string | number; to: string | number };
  "curves.seconds": { time: string | number };
  "curves.short_at": { pct: string | number };
  "curves.short_from": {};
  "curves.start": {};
  "curves.time_axis": {};
  "curves.told": { reps: string | number; time: string | number };
  "curves.told_parting": { angle: string | number; baseline: string | number; challenge: string | number; part: string | number; parting: string | number };
  "curves.told_support": { hi: string | number; lo: string | number };
  "curves.told_together": { angle: string | number; baseline: string | number; challenge: string | number; part: string | number };
  "curves.value": { deg: string | number; ends: string | number; of: string | number };
  "curves.value_alone": { deg: string | number; of: string | number };
  "curves.values": { pct: string | number; values: string | number };
  "did.counts": { rep: string | number };
  "did.floor": {};
  "did.floor_off": {};
  "did.left_out": { rep: string | number };
  "did.part": { from: string | number; to: string | number };
  "did.part_off": {};
  "did.point": { frame: string | number; point: string | number };
  "did.point_back": { frame: string | number; point: string | number };
  "did.tempo": { rep: string | number; tempo: string | number };
  "did.tempo_found": { rep: string | number };
  "did.time": { moment: string | number; rep: string | number; time: string | number };
  "did.vertical_drawn": { deg: string | number };
  "did.vertical_off": {};
  "did.vertical_set": { deg: string | number };
  "duo.after_bottom": { time: string | number };
  "duo.after_landing": { time: string | number };
  "duo.at_bottom": {};
  "duo.at_landing": {};
  "duo.before_bottom": { time: string | number };
  "duo.before_landing": { time: string | number };
  "duo.from_bottom": { time: string | number };
  "duo.from_landing": { time: string | number };
  "duo.left_values": { values: string | number };
  "duo.no_video": { clip: string | number };
  "duo.of_clip": { clip: string | number; rep: string | number };
  "duo.over_bottom": {};
  "duo.over_it": {};
  "duo.over_landing": {};
  "duo.rep": { clip: string | number; of: string | number; rep: string | number };
  "duo.right_values": { values: string | number };
  "duo.seconds_bottom": {};
  "duo.seconds_landing": {};
  "duo.side_bottom": {};
  "duo.side_landing": {};
  "duo.to_bottom": {};
  "duo.to_landing": {};
  "duo.under": {};
  "duo.video_soon": { clip: string | number };
  "duration.both": { minutes: string | number; seconds: string | number };
  "duration.hours": { hours: string | number; minutes: string | number };
  "duration.minutes": { minutes: string | number };
  "duration.seconds": { seconds: string | number };
  "file_being_made": { file: string | number };
  "file_saved": { file: string | number };
  "find.none": {};
  "grade.fair": {};
  "grade.good": {};
  "grade.poor": {};
  "guided.done": {};
  "guided.film": { tempo: string | number };
  "guided.now_fast": {};
  "guided.now_jump": {};
  "guided.now_slow": {};
  "guided.sending": {};
  "guided.sent": {};
  "guided.skipped": {};
  "guided.step": { state: string | number; tempo: string | number };
  "guided.to_film": {};
  "head.before": {};
  "head.interval": {};
  "head.joint": {};
  "head.landing": {};
  "head.lost": {};
  "head.position": {};
  "head.retained": {};
  "head.verdict": {};
  "history.again": {};
  "history.again_against": { date: string | number };
  "history.again_holds": { against: string | number; before: string | number; before_date: string | number; before_ends: string | number; harder: string | number; joint: string | number; now: string | number; now_date: string | number; now_ends: string | number };
  "history.again_lost": { against: string | number; before: string | number; before_date: string | number; before_ends: string | number; harder: string | number; joint: string | number; now: string | number; now_date: string | number; now_ends: string | number };
  "history.again_unclear": { against: string | number; before: string | number; before_date: string | number; before_ends: string | number; harder: string | number; joint: string | number; now: string | number; now_date: string | number; now_ends: string | number };
  "history.band_of": {};
  "history.bars": {};
  "history.condition": {};
  "history.detectable": { change: string | number; smallest: string | number };
  "history.every": {};
  "history.every_visit": {};
  "history.harder": { state: string | number; tempo: string | number };
  "history.landing": {};
  "history.latest": {};
  "history.load": { condition: string | number; load: string | number };
  "history.loss": { size: string | number };
  "history.loss_gained": { size: string | number };
  "history.loss_held": { before: string | number; before_date: string | number; joint: string | number; now: string | number; now_date: string | number };
  "history.loss_kept_less": { before: string | number; before_date: string | number; by: string | number; joint: string | number; now: string | number; now_date: string | number };
  "history.loss_kept_more": { before: string | number; before_date: string | number; by: string | number; joint: string | number; now: string | number; now_date: string | number };
  "history.loss_of": { joint: string | number; pair: string | number };
  "history.loss_once": { date: string | number; ends: string | number; joint: string | number; lost: string | number };
  "history.loss_open": { change: string | number; date: string | number; ends: string | number; joint: string | number };
  "history.loss_unseen": { before: string | number; before_date: string | number; joint: string | number; now: string | number; now_date: string | number; smallest: string | number };
  "history.losses": {};
  "history.lost_axis": {};
  "history.lost_of": { joint: string | number };
  "history.movement": { name: string | number; number: string | number };
  "history.none": {};
  "history.none_help": {};
  "history.of": { measure: string | number; position: string | number };
  "history.one_visit": {};
  "history.open": { reps: string | number; tempo: string | number };
  "history.pair": { easier: string | number; harder: string | number };
  "history.pairs": {};
  "history.positions": {};
  "history.reps": {};
  "history.same": {};
  "history.setting": { of: string | number; setting: string | number };
  "history.since_first": {};
  "history.since_previous": {};
  "history.the_latest": {};
  "history.the_visit": {};
  "history.told": { position: string | number; values: string | number };
  "history.unseen": { smallest: string | number };
  "history.value": {};
  "history.visit": {};
  "history_measure.at_bottom": {};
  "history_measure.rom": {};
  "home.athlete_below": {};
  "home.athlete_of": { file: string | number };
  "home.condition_below": {};
  "home.condition_of": { file: string | number };
  "home.day_of": { file: string | number };
  "home.empty": { file: string | number };
  "home.example": { clips: string | number };
  "home.film_or_choose": {};
  "home.found": {};
  "home.height": { least: string | number; most: string | number };
  "home.here_again": { file: string | number };
  "home.here_already": { file: string | number };
  "home.its_own": {};
  "home.load": { least: string | number; most: string | number };
  "home.measure": { n: number };
  "home.name_first": {};
  "home.no_video": { file: string | number };
  "home.not_sent": {};
  "home.only_here": {};
  "home.remove": {};
  "home.remove_file": { file: string | number };
  "home.sending": { file: string | number };
  "home.sent": { of: string | number; sent: string | number };
  "home.sent_left": { of: string | number; sent: string | number; time: string | number };
  "home.stop": {};
  "home.too_large": { file: string | number; most: string | number };
  "home.was_sent": { file: string | number };
  "home.which_day": {};
  "home.whose": {};
  "job.cancel": {};
  "job.cancel_clip": { clip: string | number };
  "job.clip": {};
  "job.ended_at": { time: string | number };
  "job.frames": { done: string | number; total: string | number };
  "job.hint": { hint: string | number };
  "job.left": { time: string | number };
  "job.left_unknown": {};
  "job.of_kind": { kind: string | number; state: string | number };
  "job.open": {};
  "job.progress": {};
  "job.progress_of": { clip: string | number };
  "job.rate": { rate: string | number };
  "job.retry": {};
  "job.retry_clip": { clip: string | number };
  "job.starting": {};
  "job.told": { clip: string | number; state: string | number };
  "job.told_failed": { clip: string | number; error: string | number; state: string | number };
  "job.told_without": { clip: string | number; why: string | number };
  "job.without": {};
  "job_kind.measure": {};
  "job_kind.render": {};
  "job_kind.report": {};
  "job_state.cancelled": {};
  "job_state.done": {};
  "job_state.failed": {};
  "job_state.running": {};
  "job_state.waiting": {};
  "ladder.caption": { easiest: string | number };
  "ladder.first_outside": {};
  "ladder.landing": {};
  "ladder.points_to": {};
  "ladder.position": {};
  "ladder.title": { conditions: string | number };
  "landing.against_slow": {};
  "landing.against_takeoff": {};
  "landing.caption": {};
  "leg.left": {};
  "leg.right": {};
  "limb.ankle_dorsiflexion": {};
  "limb.elbow_flexion": {};
  "limb.foot_pitch": {};
  "limb.hip_flexion": {};
  "limb.knee_flexion": {};
  "limb.shank_angle": {};
  "limb.shoulder_flexion": {};
  "limb.thigh_angle": {};
  "limb.trunk_lean": {};
  "list.last": { before: string | number; last: string | number };
  "list.next": { before: string | number; next: string | number };
  "marks.angle": { deg: string | number };
  "marks.at": { time: string | number; what: string | number };
  "marks.line": {};
  "marks.new_note": {};
  "marks.none": {};
  "marks.place": { number: string | number };
  "marks.remove": {};
  "marks.remove_this": { what: string | number };
  "measure.at_bottom": {};
  "measure.at_contact": { angle: string | number };
  "measure.bottom": {};
  "measure.bottom_at": {};
  "measure.by_hand": {};
  "measure.contact_bottom": {};
  "measure.contact_time": {};
  "measure.crease": {};
  "measure.drift": {};
  "measure.fastest": { joint: string | number };
  "measure.flight": {};
  "measure.foot": {};
  "measure.foot_pct": {};
  "measure.from_contact": {};
  "measure.heel": {};
  "measure.heel_for": { time: string | number };
  "measure.height": {};
  "measure.joint_at_bottom": { angle: string | number };
  "measure.jump": {};
  "measure.knee_toe": {};
  "measure.landing": {};
  "measure.mean": {};
  "measure.measure": {};
  "measure.middle": {};
  "measure.minus_above": {};
  "measure.minus_behind": {};
  "measure.noise": {};
  "measure.of_mass": {};
  "measure.outside": {};
  "measure.pct_foot": {};
  "measure.rise": {};
  "measure.rise_standing": {};
  "measure.rom": {};
  "measure.slides": {};
  "measure.speed": {};
  "measure.steps_hops": {};
  "measure.strength": {};
  "measure.support": {};
  "measure.table": { group: string | number };
  "measure.takeoff": {};
  "measure.thigh": {};
  "measure.time": {};
  "measure.toe": {};
  "measure.toe_for": { time: string | number };
  "measure.under_load": {};
  "measure.until_standing": {};
  "measure.until_still": {};
  "measure.up": {};
  "measure.whole": {};
  "moment.bottom": {};
  "moment.contact": {};
  "moment.end": {};
  "moment.landing_bottom": {};
  "moment.start": {};
  "moment.takeoff": {};
  "movement.clean_pull": {};
  "movement.drop_landing": {};
  "movement.get_up": {};
  "movement.get_up_kneeling": {};
  "movement.get_up_lying": {};
  "movement.hinge": {};
  "movement.hop": {};
  "movement.jerk": {};
  "movement.lunge": {};
  "movement.press": {};
  "movement.pull": {};
  "movement.push_press": {};
  "movement.squat": {};
  "movement.step_up": {};
  "no_zero": {};
  "note.counted": { baseline: string | number; challenge: string | number };
  "note.reps": { baseline: string | number; challenge: string | number; easier: string | number; harder: string | number };
  "note.reps_of_sides": { baseline: string | number; challenge: string | number; tempo: string | number };
  "note.retest": { changes: string | number };
  "note.smallest": { size: string | number };
  "overlay.heel": {};
  "overlay.support": { pct: string | number };
  "overlay.support_unknown": {};
  "overlay.support_within": { ends: string | number; pct: string | number };
  "overlay.toe": {};
  "part.part": { from: string | number; to: string | number };
  "part.two_times": {};
  "part.whole": {};
  "phase.ascent": {};
  "phase.bottom": {};
  "phase.descent": {};
  "phase.drop_landing.ascent": {};
  "phase.drop_landing.descent": {};
  "phase.flight": {};
  "phase.landing": {};
  "phase.lock_out.ascent": {};
  "phase.lock_out.descent": {};
  "phase.lowest.ascent": {};
  "phase.lowest.descent": {};
  "phase.pull_start.ascent": {};
  "phase.pull_start.descent": {};
  "phase.recovery": {};
  "phase.stand": {};
  "phase.start": {};
  "phase.take-off": {};
  "phase.top.ascent": {};
  "phase.top.descent": {};
  "phase.whole": {};
  "picked.choose": { clip: string | number };
  "picked.delete": { n: number };
  "picked.deleted": { n: number };
  "picked.measured": { n: number };
  "picked.moved": { n: number };
  "picked.n": { n: number };
  "play.pause": {};
  "play.play": {};
  "point.ankle": {};
  "point.ear": {};
  "point.elbow": {};
  "point.heel": {};
  "point.hip": {};
  "point.knee": {};
  "point.shoulder": {};
  "point.toe": {};
  "point.wrist": {};
  "points_to.control_at_speed": {};
  "points_to.control_through_change_of_direction": {};
  "points_to.range": {};
  "quality.blur": { size: string | number };
  "quality.camera": {};
  "quality.camera_moved": { size: string | number };
  "quality.camera_still": {};
  "quality.camera_unknown": {};
  "quality.clip_frames": {};
  "quality.filled": { pct: string | number };
  "quality.frames": { n: number };
  "quality.grade": { grade: string | number };
  "quality.hidden": { pct: string | number };
  "quality.rate": { frames: string | number; rate: string | number };
  "quality.rate_slow_motion": { frames: string | number; rate: string | number; times: string | number };
  "quality.scale": {};
  "quality.scale_from": { ends: string | number; size: string | number; sources: string | number };
  "quality.scale_unknown": {};
  "quality.side_on": {};
  "quality.turned": {};
  "quality.turned_from": { deg: string | number; source: string | number };
  "quality.turned_unknown": { deg: string | number };
  "range": { hi: string | number; lo: string | number };
  "rep.between": {};
  "rep.left_out": {};
  "rep.not_whole": {};
  "rep.number": { rep: string | number };
  "rep.of_tempo": { rep: string | number; tempo: string | number };
  "rep.phase": { phase: string | number; rep: string | number };
  "rep.title": { rep: string | number };
  "rep.without": {};
  "roll_source.flight": {};
  "roll_source.floor": {};
  "roll_source.given": {};
  "roll_source.lines": {};
  "save": {};
  "save_file": { file: string | number };
  "save_size": { size: string | number };
  "scale_source.height": {};
  "scale_source.jump": {};
  "scale_source.leg": {};
  "scale_source.mark": {};
  "server.answered": { status: string | number };
  "server.silent": {};
  "server.silent_hint": {};
  "setting.number": { field: string | number; least: string | number; most: string | number };
  "shared_file.athlete.html": {};
  "shared_file.athlete.pdf": {};
  "shared_file.coach.pdf": {};
  "shared_file.comparison.json": {};
  "shared_file.curves.svg": {};
  "shared_file.overlay.png": {};
  "shared_file.report.html": {};
  "shared_file.sidebyside.mp4": {};
  "shot.landing": {};
  "shot.of": { clip: string | number; rep: string | number; shot: string | number };
  "shot.slow": {};
  "shot.takeoff": {};
  "stage.looking for the athlete": {};
  "stage.pictures": {};
  "stage.pictures for the pages": {};
  "stage.tables": {};
  "stage.tracking": {};
  "stage.video for the page": {};
  "still.bottom": {};
  "still.contact": {};
  "still.end": {};
  "still.flight": {};
  "still.landing": {};
  "still.stand": {};
  "still.start": {};
  "still.takeoff": {};
  "table.bottom": {};
  "table.bottom_takeoff": {};
  "table.caption": { baseline: string | number; challenge: string | number };
  "table.kept": { pct: string | number };
  "table.rom": {};
  "table.support": {};
  "table.takeoff": {};
  "tempo.between": {};
  "tempo.drop": {};
  "tempo.fast": {};
  "tempo.jump": {};
  "tempo.slow": {};
  "tempo.unknown": {};
  "tempo_field": {};
  "trim.part": { end: string | number; from: string | number; to: string | number };
  "trim.whole": {};
  "turn.bottom": {};
  "turn.drop_landing": {};
  "turn.landing": {};
  "turn.lock_out": {};
  "turn.lowest": {};
  "turn.pull_start": {};
  "turn.top": {};
  "turned.ascent": {};
  "turned.descent": {};
  "unit.% of foot": {};
  "unit.% of height": {};
  "unit.degrees": {};
  "upload.again": {};
  "upload.broke": {};
  "upload.broke_retry": {};
  "upload.looking": {};
  "upload.too_often": {};
  "upload.waiting": {};
  "verdict.gained": {};
  "verdict.held": {};
  "verdict.lost": {};
  "verdict.unclear": {};
  "verdict.unmeasured": {};
  "verdict.withheld": {};
  "went_wrong": {};
}

/** What is given with a key: nothing, or its parameters. */
export type Given<K extends keyof Texts> = {} extends Texts[K] ? [] : [Texts[K]];

/** The kinds of things that have names. */
export type Kind =
  | "athlete"
  | "change"
  | "choose"
  | "clip"
  | "clip_file"
  | "comparison"
  | "condition"
  | "correct"
  | "count"
  | "crease"
  | "curves"
  | "did"
  | "duo"
  | "duration"
  | "find"
  | "grade"
  | "guided"
  | "head"
  | "history"
  | "history_measure"
  | "home"
  | "job"
  | "job_kind"
  | "job_state"
  | "ladder"
  | "landing"
  | "leg"
  | "limb"
  | "list"
  | "marks"
  | "measure"
  | "moment"
  | "movement"
  | "note"
  | "overlay"
  | "part"
  | "phase"
  | "picked"
  | "play"
  | "point"
  | "points_to"
  | "quality"
  | "rep"
  | "roll_source"
  | "scale_source"
  | "server"
  | "setting"
  | "shared_file"
  | "shot"
  | "stage"
  | "still"
  | "table"
  | "tempo"
  | "trim"
  | "turn"
  | "turned"
  | "unit"
  | "upload"
  | "verdict";

/** The words of a position. */
export interface Position {
  name: string;
  lost: string;
  gained: string;
  less: string;
  more: string;
  look: { lost: string; gained: string };
}

export const catalogue: {
  language: string;
  texts: Record<string, string | Record<string, string>>;
  positions: Record<string, Position>;
  angles: Record<string, string>;
};

// What the server answers, for the type checker of the page's scripts. The documents come from their JSON Schemas
// (scripts/lint makes types of them), the parts of answers from the Go types (views.d.ts); only how the answers are put
// together is said here.
import type { Motion } from "../../web/pages/assets/js/motion.js";
import type { AnalysisOfOneClip, Camera, Corrections, Rep, RepCorrection } from "../../.runtime/page-tools/types/analysis";
import type { ComparisonOfTempos, Pair } from "../../.runtime/page-tools/types/comparison";
import type { AthleteView, ClipView, CorrectionView, FileView, JobView, VisitView } from "./views";

/** What is said of the reps of an analysis: why each is not whole, what to film next time, when a landing is over. */
export interface SaidOfAnalysis {
  not_whole: string[];
  without: string;
  advice: string[];
  settled: string;
  answers: string[];
  within: string[];
  means: Means[];
  front: FrontTable | null;
  plain: FrontTable | null;
}
/** What the front shows, or a clip without reps, in words. */
export interface FrontTable {
  title: string;
  head: string[];
  rows: string[][];
  notes: string[];
}
/** The means of the whole reps of one tempo, by joint. */
export interface Means {
  tempo: string;
  reps: number;
  rom_deg: Record<string, Estimate>;
  at_bottom_deg: Record<string, Estimate>;
  at_landing_deg: Record<string, Estimate>;
  flown: boolean;
  zero_known: boolean;
  tempo_between: boolean;
}
export type Analysis = AnalysisOfOneClip & { said: SaidOfAnalysis };
export type Comparison = ComparisonOfTempos;
export type { Camera, Corrections, Pair, Rep, RepCorrection };
export type { AthleteView, ClipView, FileView, JobView, VisitView };
export type { Again, History, HistoryChange, HistoryPoint, HistorySeries, Series as LossSeries } from "./views";

/** A value with its 95 % interval. */
export interface Estimate {
  value: number | null;
  interval95: [number | null, number | null];
}

/** Of GET /api/clips/{id}/frames: the network's points of every frame. */
export interface Frames {
  width_px: number;
  height_px: number;
  names: string[];
  time_s: number[];
  points: ([number | null, number | null] | null)[][];
}

/** Of GET /api/clips/{id}. */
export interface ClipAnswer {
  clip: ClipView;
  athlete: AthleteView;
  visit: VisitView;
  job: JobView | null;
  corrections: CorrectionView[];
  current: Corrections;
  base: string;
  can_undo: boolean;
  can_redo: boolean;
  files: FileView[];
}

/** A clip with what the page has read of it. */
export interface MeasuredClip extends ClipView {
  motion: Motion;
}

// Written by TestPageTypes of web: go test ./web -run PageTypes -update
import type { Estimate } from "./api";

export interface Again {
  side: string;
  movement: number;
  turn?: string;
  position: string;
  baseline: Condition;
  challenge: Condition;
  before: Point;
  now: Point;
  against?: string;
}

export interface AthleteView {
  id: string;
  name: string;
  height_cm: number | null;
  birth_year: number | null;
  notes: string;
  team: string;
  consent_on: string;
  keep_until: string;
  example: boolean;
  created_at: string;
}

export interface Change {
  since: string;
  kept_deg: number;
  interval95_deg: [number, number];
  smallest_detectable_deg: number;
  verdict: string;
}

export interface ClipView {
  id: string;
  visit_id: string;
  athlete_id: string;
  name: string;
  size_bytes: number;
  tempo: string;
  height_cm: number | null;
  capture_fps: number | null;
  trim_from_s: number | null;
  trim_to_s: number | null;
  movement: string;
  added_at: string;
  result: ResultView | null;
  setting: Setting;
}

export interface ComparisonView {
  id: string;
  athlete_id: string;
  clip_ids: string[];
  created_at: string;
  files: FileView[];
}

export interface Condition {
  tempo: string;
  condition: string;
  load_kg: number;
  setting?: string;
}

export interface CorrectedView {
  analysis_changed: boolean;
  revision: number;
  took_ms: number;
  can_undo: boolean;
  can_redo: boolean;
}

export interface CorrectionView {
  id: string;
  seq: number;
  what: string;
  created_at: string;
  undone: boolean;
}

export interface FileView {
  name: string;
  size_bytes: number;
}

export interface History {
  schema: string;
  smallest_change_that_matters_deg: number;
  series: HistorySeries[];
  losses: Series[];
  again: Again[];
  warnings?: Notice[];
}

export interface HistoryChange {
  since: string;
  change: number;
  interval95: [number, number];
  smallest_detectable: number;
  verdict: string;
}

export interface HistoryPoint {
  date: string;
  clip_ids: string[];
  reps: number;
  value: Estimate;
  since_first: HistoryChange | null;
  since_previous: HistoryChange | null;
}

export interface HistorySeries {
  side: string;
  movement: number;
  movement_key: string;
  turn?: string;
  tempo: string;
  condition: string;
  load_kg: number;
  setting?: string;
  position: string;
  measure: string;
  unit: string;
  points: HistoryPoint[];
}

export interface JobView {
  id: string;
  clip_id: string;
  clip_name: string;
  athlete_id: string;
  athlete_name: string;
  kind: string;
  state: string;
  stage: string;
  done: number;
  total: number;
  rate_hz: number | null;
  error: string;
  hint: string;
  position: number;
  attempt: number;
  created_at: string;
  ended_at: string;
  measured: boolean;
  without: string;
}

export interface Notice {
  code: string;
  params?: Record<string, number>;
  message?: string;
  clip?: string;
}

export interface Point {
  date: string;
  lost_deg: number;
  interval95_deg: [number, number];
  verdict: string;
  since_first: Change | null;
  since_previous: Change | null;
}

export interface ResultView {
  id: string;
  revision: number;
  created_at: string;
  files: FileView[];
}

export interface Series {
  side: string;
  movement: number;
  turn?: string;
  position: string;
  baseline: Condition;
  challenge: Condition;
  points: Point[];
}

export interface Setting {
  load_pct_body_mass?: number | null;
  after_reps?: number | null;
  after_min?: number | null;
  heart_rate_bpm?: number | null;
  exertion_0_10?: number | null;
  exertion_6_20?: number | null;
  fatigue?: string;
  cue?: string;
  footwear?: string;
  note?: string;
}

export interface VisitView {
  id: string;
  athlete_id: string;
  date: string;
  condition: string;
  load_kg: number | null;
  notes: string;
}

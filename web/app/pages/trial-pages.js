// The addresses of trials.
import { DailyRoundPage } from "./daily-round.js";
import { MeasurePage } from "./measure.js";
import { TrialPage } from "./trial.js";
import { TrialsPage } from "./trials.js";

export const TRIAL_PAGES = [
  { path: "/trials", page: TrialsPage },
  { path: "/trials/:id", page: TrialPage },
  { path: "/trials/:id/measure/:code", page: MeasurePage },
  { path: "/trials/:id/round/:code", page: DailyRoundPage },
];

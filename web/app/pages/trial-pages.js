// The addresses of trials.
import { DailyRoundPage } from "./daily-round.js";
import { MeasurePage } from "./measure.js";
import { TrialPage } from "./trial.js";
import { NewTrialPage, TrialPlanPage } from "./trial-plan.js";
import { TrialsPage } from "./trials.js";

export const TRIAL_PAGES = [
  { path: "/trials", page: TrialsPage },
  { path: "/trials/new", page: NewTrialPage },
  { path: "/trials/:id/plan", page: TrialPlanPage },
  { path: "/trials/:id", page: TrialPage },
  { path: "/trials/:id/measure/:code", page: MeasurePage },
  { path: "/trials/:id/round/:code", page: DailyRoundPage },
];

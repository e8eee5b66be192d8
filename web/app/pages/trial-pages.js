// The addresses of trials.
import { AcrossPage, AcrossQuestionPage } from "./across.js";
import { AnalysisPage } from "./analysis.js";
import { AnalysisCellPage } from "./analysis-cell.js";
import { DailyRoundPage } from "./daily-round.js";
import { LotWatchPage } from "./lot-watch.js";
import { MeasurePage } from "./measure.js";
import { TrialPage } from "./trial.js";
import { TrialGridPage } from "./trial-grid.js";
import { ImportTrialPage, ImportValuesPage } from "./trial-import.js";
import { TrialOrdersPage } from "./trial-orders.js";
import { NewTrialPage, TrialPlanPage } from "./trial-plan.js";
import { PottingPage } from "./trial-potting.js";
import { SmallTrialPage } from "./trial-small.js";
import { TrialsPage } from "./trials.js";

export const TRIAL_PAGES = [
  { path: "/lots/:id/watch", page: LotWatchPage },
  { path: "/trials", page: TrialsPage },
  { path: "/trials/new", page: NewTrialPage },
  { path: "/trials/across", page: AcrossPage },
  { path: "/trials/across/:id", page: AcrossQuestionPage },
  { path: "/trials/import", page: ImportTrialPage },
  { path: "/trials/:id/values", page: TrialGridPage },
  { path: "/trials/:id/import", page: ImportValuesPage },
  { path: "/trials/small", page: SmallTrialPage },
  { path: "/trials/:id/plan", page: TrialPlanPage },
  { path: "/trials/:id/orders", page: TrialOrdersPage },
  { path: "/trials/:id/potting", page: PottingPage },
  { path: "/trials/:id", page: TrialPage },
  { path: "/trials/:id/measure/:code", page: MeasurePage },
  { path: "/trials/:id/round/:code", page: DailyRoundPage },
  { path: "/trials/:id/analysis", page: AnalysisPage },
  { path: "/trials/:id/analysis/:measurement/:assessment", page: AnalysisCellPage },
];

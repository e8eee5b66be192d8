// Address -> page. A page gets `frame(foot, content)` and the parameters of its address.
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { ApplicationPage } from "./application.js";
import { AmendPage } from "./application-amend.js";
import { ApplicationsPage } from "./applications.js";
import { ApplyPage } from "./apply.js";
import { BoardPage } from "./board.js";
import { CalendarPage } from "./calendar.js";
import { CalibrationPage, NewCalibrationPage } from "./calibration.js";
import { DecidePage } from "./decide.js";
import { DisplayPage } from "./display.js";
import { EarlyEntryPage } from "./early-entry.js";
import { EmergencyPage } from "./emergency.js";
import { EstablishmentPage } from "./establishment-page.js";
import { HousesPage } from "./houses.js";
import { ImportPage } from "./import.js";
import { LabelFileFormPage } from "./label-file-form.js";
import { LotHappenedPage } from "./lot-happened.js";
import { MixPage } from "./mix.js";
import { OrderPage } from "./order.js";
import { ChangeOrderPage, NewOrderPage } from "./order-edit.js";
import { OrdersPage } from "./orders.js";
import { PeoplePage } from "./people.js";
import { PrintPage } from "./print.js";
import { addPage, changePage } from "./register-form.js";
import { listPage } from "./register-list.js";
import { recordPage } from "./register-record.js";
import { REGISTERS } from "./registers.js";
import { RestrictionPage } from "./restriction.js";
import { SavedPage } from "./saved.js";
import { StockPage } from "./stock.js";
import { SyncPage } from "./sync.js";
import { TodayPage } from "./today.js";
import { TRIAL_PAGES } from "./trial-pages.js";

/** A register's pages below its list; "new" before ":id", the first that fits is shown. */
const OF_RECORDS = Object.values(REGISTERS).flatMap(({ kind, base }) => [
  { path: `${base}/new`, page: addPage(kind) },
  { path: `${base}/:id`, page: recordPage(kind) },
  { path: `${base}/:id/change`, page: changePage(kind) },
]);

export const PAGES = [
  { path: "/", page: TodayPage },
  { path: "/today", page: TodayPage },
  // where a sign-in ended up
  { path: "/sign-in", page: TodayPage },
  { path: "/set-up", page: TodayPage },
  { path: "/apply", page: ApplyPage },
  { path: "/board", page: BoardPage },
  { path: "/orders", page: OrdersPage },
  { path: "/orders/new", page: NewOrderPage },
  { path: "/orders/:id", page: OrderPage },
  { path: "/orders/:id/change", page: ChangeOrderPage },
  { path: "/calendar", page: CalendarPage },
  { path: "/restrictions/:id", page: RestrictionPage },
  { path: "/restrictions/:id/early-entry", page: EarlyEntryPage },
  { path: "/mix", page: MixPage },
  { path: "/calibrations/new", page: NewCalibrationPage },
  { path: "/calibrations/:id", page: CalibrationPage },
  { path: "/saved/:id", page: SavedPage },
  { path: "/sync", page: SyncPage },
  { path: "/applications", page: ApplicationsPage },
  { path: "/applications/:id", page: ApplicationPage },
  { path: "/applications/:id/amend", page: AmendPage },
  { path: "/decide", page: DecidePage },
  { path: "/emergency", page: EmergencyPage },
  { path: "/houses", page: HousesPage },
  { path: "/lots", page: listPage("lot", "place.lots") },
  { path: "/products", page: listPage("product", "place.products") },
  { path: "/mixes", page: listPage("tank_mix", "place.mixes") },
  { path: "/people", page: PeoplePage },
  { path: "/print", page: PrintPage },
  { path: "/permits", page: listPage("permit", "place.permits") },
  { path: "/stock", page: StockPage },
  { path: "/display", page: DisplayPage },
  { path: "/establishment", page: EstablishmentPage },
  { path: "/label-files/new", page: LabelFileFormPage },
  { path: "/lots/:id/happened", page: LotHappenedPage },
  { path: "/files", page: ImportPage },
  ...TRIAL_PAGES,
  ...OF_RECORDS,
];

/** @param {{ frame: any }} props */
export function Missing({ frame }) {
  return frame(
    null,
    html`<${Page} title=${t("missing.title")}>
      <${EmptyState} icon="search" title=${t("missing.words")}><${Button} href="/today">${t("place.today")}<//><//>
    <//>`,
  );
}

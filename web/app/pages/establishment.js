// What pages need of the establishment: how it writes numbers, which country's telephone numbers may be shown.
import { useRecords, useTepal } from "../state/context.js";

/** The establishment's fields: the record where the phone has it, else what the sign-in said; {} before either. */
export function useEstablishment() {
  const rows = useRecords("establishment");
  const { session } = useTepal();
  return rows?.[0]?.shown.fields ?? session.value?.establishment ?? {};
}

/** "1234.5" or "1234,5". */
export const useWrittenNumbers = () => useEstablishment().number_format ?? "1234.5";

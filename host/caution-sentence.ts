/** Ends every report, every printed page and the help of run and replay. */
export const CAUTION_SENTENCE =
  "An engineering and teaching model, not certified airborne software and no means of compliance; " +
  "flight, dispatch and maintenance decisions follow the approved manuals, the competent authority " +
  "and licensed people.";

/**
 * Version of the computations. Raised whenever any answer may change for the same input: callers keep it beside what
 * they store, and can tell a new reading of an old profile from a change of the profile.
 */
export const MODEL = '1.2.0'

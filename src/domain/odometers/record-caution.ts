import { cautionNote, type Note } from '../measure/notes.js'

/** Goes with every answer on the error of an odometer. */
export const RECORD_CAUTION: Note = cautionNote(
  'odometer-law',
  'The law restricts changing an odometer (for example 49 USC 32703-32704) and requires a record of the change. This result corrects a calculation; it does not permit changing the odometer.',
)

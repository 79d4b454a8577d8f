import { type Static, Type } from '@sinclair/typebox'
import { calibrationPlace, GaugeCalibrationAnswer, GaugeCalibrationRequest } from './gauge-calibration.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { Id, IdInPath, Instant, Next, PAGE_QUERY, Version } from './stored.js'
import { lineText, longText } from './texts.js'
import { VehiclePath } from './vehicles.js'

const { name: pathName } = VehiclePath.properties
// Kept with a vehicle, a calibration has to say where it was read.
const { on: _optional, ...readings } = GaugeCalibrationRequest.properties

const CALIBRATION = {
  path: lineText(pathName.maxLength ?? 80, 'Name of the path of the vehicle whose dial was read.', {
    examples: ['speedometer'],
  }),
  on: calibrationPlace(),
  performedOn: Type.Optional(
    Type.String({
      format: 'date',
      maxLength: 10,
      description: 'Day of the readings (YYYY-MM-DD).',
      examples: ['2026-05-09'],
    }),
  ),
  notes: Type.Optional(longText(2000, 'Procedure and instruments.')),
  ...readings,
}

/** The stored part of the request: all except the acceptance, which may change. */
export const VehicleCalibration = shape(
  'VehicleCalibration',
  'Readings of a dial of a vehicle, and how they are to be fitted.',
  CALIBRATION,
)

export const VehicleCalibrationRequest = named(
  'VehicleCalibrationRequest',
  Type.Object(
    {
      ...CALIBRATION,
      accepted: Type.Optional(
        Type.Boolean({
          description: 'Whether it may be applied to the profile. Left out: false, until a PATCH accepts it.',
        }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        { path: 'speedometer', on: 'road', accepted: true, ...GaugeCalibrationRequest.examples[0] },
        {
          path: 'speedometer',
          on: 'bench',
          performedOn: '2026-05-09',
          ...GaugeCalibrationRequest.examples[1],
        },
      ],
    },
  ),
)

export const SavedCalibration = shape(
  'SavedCalibration',
  'A stored calibration: the readings as given, and what was computed from them then.',
  {
    id: Id,
    version: Version,
    createdAt: Instant('When it was stored'),
    changedAt: Instant('When accepted was last set'),
    accepted: Type.Boolean({ description: 'Whether it may be applied to the profile.' }),
    request: ref(VehicleCalibration, 'The readings, as given.'),
    result: ref(GaugeCalibrationAnswer, 'What was computed from them when they were recorded.'),
  },
)

export const SavedCalibrationList = shape(
  'SavedCalibrationList',
  'A page of the calibrations of a vehicle.',
  {
    calibrations: listOf(SavedCalibration, 200, 'Newest first.'),
    next: Next,
  },
)

export const CalibrationJudgement = named(
  'CalibrationJudgement',
  Type.Object(
    { accepted: Type.Boolean({ description: 'Whether it may be applied to the profile.' }) },
    { additionalProperties: false, examples: [{ accepted: true }] },
  ),
)

export const CalibrationApplication = named(
  'CalibrationApplication',
  Type.Object(
    { path: CALIBRATION.path },
    { additionalProperties: false, examples: [{ path: 'speedometer' }] },
  ),
)

export const CalibrationListQuery = Type.Object(PAGE_QUERY, { additionalProperties: false })

export const CalibrationParams = Type.Object(
  { id: IdInPath, calibrationId: IdInPath },
  { additionalProperties: false },
)

export type VehicleCalibrationShape = Static<typeof VehicleCalibration>
export type CalibrationResultShape = Static<typeof GaugeCalibrationAnswer>

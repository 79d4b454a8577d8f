import type { Static } from '@sinclair/typebox'
import { gaugeCalibration } from '../domain/gauges/gauge-calibration.js'
import { timedCourse } from '../domain/gauges/timed-course.js'
import { GaugeCalibrationAnswer, GaugeCalibrationRequest } from '../schemas/gauge-calibration.js'
import { TimedCourseAnswer, TimedCourseRequest } from '../schemas/timed-course.js'
import { answering, calculation, calculationSchema } from './calculation.js'
import type { App } from './options.js'

const tag = 'gauges'

const calibrationAnswer = answering({
  body: GaugeCalibrationRequest,
  answer: GaugeCalibrationAnswer,
  compute: gaugeCalibration,
})

/** The answer of `POST /v1/gauges/calibration`. The dial has the unit of its readings, which quantities in SI no longer say. */
export const gaugeCalibrationAnswer = (body: Static<typeof GaugeCalibrationRequest>) =>
  calibrationAnswer(body, 'kmh' in body.readings[0]!.indicated ? 'kmh' : 'mph')

export function gaugeCalibrationRoutes(app: App): void {
  app.post(
    '/v1/gauges/calibration',
    {
      schema: calculationSchema({
        id: 'calibrateGauge',
        summary: 'Calibration of a speedometer',
        description:
          'From readings of the dial against true speeds: scale and offset with their uncertainty, corrections both ways, verdicts, what to set next, and whether the ratio or the head is at fault. Readings count as independent.',
        tag,
        body: GaugeCalibrationRequest,
        answer: GaugeCalibrationAnswer,
      }),
    },
    (request) => gaugeCalibrationAnswer(request.body),
  )

  app.post(
    '/v1/gauges/timed-course',
    calculation({
      id: 'computeTimedCourse',
      summary: 'True speed over a measured course',
      description:
        'From the length of a course and stopwatch times over it at one steady indicated speed: the true speed with its uncertainty, ready to be used as a reading of a calibration.',
      tag,
      body: TimedCourseRequest,
      answer: TimedCourseAnswer,
      compute: timedCourse,
    }),
  )
}

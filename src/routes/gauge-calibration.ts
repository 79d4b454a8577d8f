import { gaugeCalibrationOut } from '../border/gauge-calibration.js'
import { timedCourse } from '../domain/gauges/timed-course.js'
import { GaugeCalibrationAnswer, GaugeCalibrationRequest } from '../schemas/gauge-calibration.js'
import { ref } from '../schemas/measures.js'
import { TimedCourseAnswer, TimedCourseRequest } from '../schemas/timed-course.js'
import { calculation } from './calculation.js'
import type { App } from './options.js'

const tag = 'gauges'
const tags = [tag]

export function gaugeCalibrationRoutes(app: App): void {
  app.post(
    '/v1/gauges/calibration',
    {
      schema: {
        operationId: 'calibrateGauge',
        summary: 'Calibration of a speedometer',
        description:
          'From readings of the dial against true speeds: scale and offset with their uncertainty, corrections both ways, verdicts, what to set next, and whether the ratio or the head is at fault. Readings count as independent.',
        tags,
        body: ref(GaugeCalibrationRequest),
        response: { 200: ref(GaugeCalibrationAnswer) },
      },
    },
    (request) => gaugeCalibrationOut(request.body),
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

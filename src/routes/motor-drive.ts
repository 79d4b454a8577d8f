import { motorDrive } from '../domain/gauges/motor-drive.js'
import { MotorDriveAnswer, MotorDriveRequest } from '../schemas/motor-drive.js'
import { calculation } from './calculation.js'
import type { App } from './options.js'

export function motorDriveRoutes(app: App): void {
  app.post(
    '/v1/gauges/motor-drive',
    calculation({
      id: 'checkMotorDrive',
      summary: 'Electric motor on a mechanical head',
      description:
        'Which of several motors can turn an old head from creep to top speed: speed and torque over the range, steps that show on the dial, warm-up, and what limits the motors that do not serve.',
      tag: 'gauges',
      body: MotorDriveRequest,
      answer: MotorDriveAnswer,
      compute: motorDrive,
    }),
  )
}

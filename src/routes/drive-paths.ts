import { evaluationOut } from '../border/drive-paths.js'
import { solutionOut } from '../border/solution.js'
import {
  EvaluationAnswer,
  EvaluationRequest,
  SolutionAnswer,
  SolutionRequest,
} from '../schemas/drive-paths.js'
import { ref } from '../schemas/measures.js'
import { SEARCH } from '../schemas/rate-weights.js'
import type { App, RouteOptions } from './options.js'

const tags = ['drive-paths']

export function drivePathRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/drive-paths/evaluation',
    {
      schema: {
        operationId: 'evaluateDrivePath',
        summary: 'Evaluate a drive path',
        description:
          'From tire, stages and head: turns or pulses at every link, what the dial reads at each true speed with its uncertainty, and the verdict of each rule.',
        tags,
        body: ref(EvaluationRequest),
        response: { 200: ref(EvaluationAnswer) },
      },
    },
    (request) => evaluationOut(request.body, sizeTable),
  )

  app.post(
    '/v1/drive-paths/solution',
    {
      schema: {
        operationId: 'solveDrivePath',
        ...SEARCH,
        summary: 'Solve a drive path for its open stages',
        description:
          'Finds gears, adapters or scaler settings that make the head read as aimed: within the aim first, then over-reading, then under-reading.',
        tags,
        body: ref(SolutionRequest),
        response: { 200: ref(SolutionAnswer) },
      },
    },
    (request) => solutionOut(request.body, sizeTable),
  )
}

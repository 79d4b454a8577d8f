import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox'
import Fastify, { type FastifyBaseLogger, LogController } from 'fastify'
import { Cursors } from './border/cursors.js'
import { SizeTables } from './border/tire-sizes.js'
import type { Config } from './config.js'
import type { Clock, Store } from './db/store.js'
import { registerAccess } from './plugins/access.js'
import { readQuery, registerAddresses } from './plugins/addresses.js'
import { registerBatches } from './plugins/batches.js'
import { registerBodyBytes } from './plugins/body-bytes.js'
import { registerBodyLimits } from './plugins/body-limits.js'
import { leaveToRead, registerCors } from './plugins/cors.js'
import { registerFirstUse } from './plugins/first-use.js'
import { Front } from './plugins/front.js'
import { registerKeepingUp } from './plugins/keeping-up.js'
import { answerOtherMethods, collectMethods } from './plugins/methods.js'
import { Metrics } from './plugins/metrics.js'
import { takeNdjson } from './plugins/ndjson.js'
import { oneAtATime } from './plugins/one-at-a-time.js'
import { registerOpenApi, serveDocument } from './plugins/openapi.js'
import { servePages } from './plugins/pages.js'
import { clientErrorHandler, frameworkErrorHandler, problemOf, registerProblems } from './plugins/problems.js'
import { jsonReader, takeRaw } from './plugins/raw-bodies.js'
import { Readiness } from './plugins/readiness.js'
import { registerRepeats } from './plugins/repeats.js'
import { requestIdOf } from './plugins/request-ids.js'
import { registerSerialization } from './plugins/serialization.js'
import { registerStrictJson } from './plugins/strict-json.js'
import { Turns } from './plugins/turns.js'
import { registerValidation, schemaChecks } from './plugins/validation.js'
import { registerWorkerPool } from './plugins/worker-pool.js'
import { cableBenchRoutes } from './routes/cable-bench.js'
import { cableDragRoutes } from './routes/cable-drag.js'
import { dialScaleRoutes } from './routes/dial-scale.js'
import { drivePathRoutes } from './routes/drive-paths.js'
import { electricsRoutes } from './routes/electrics.js'
import { faultRoutes } from './routes/faults.js'
import { firmwareRoutes } from './routes/firmware.js'
import { fitRoutes } from './routes/fits.js'
import { gaugeCalibrationRoutes } from './routes/gauge-calibration.js'
import { gaugeRoutes } from './routes/gauges.js'
import { gearRoutes } from './routes/gears.js'
import { healthRoutes } from './routes/health.js'
import { odometerTrackRoutes } from './routes/odometer-track.js'
import { odometerRoutes } from './routes/odometers.js'
import type { App } from './routes/options.js'
import { partRoutes } from './routes/parts.js'
import { pickUpRoutes } from './routes/pick-ups.js'
import { pulseRoutes } from './routes/pulses.js'
import { referenceRoutes } from './routes/reference.js'
import { savedVehicleCheckRoutes } from './routes/saved-vehicle-checks.js'
import { signalRoutes } from './routes/signals.js'
import { tireSizeRoutes } from './routes/tire-sizes.js'
import { tireRoutes } from './routes/tires.js'
import { vehicleBatchRoutes } from './routes/vehicle-batches.js'
import { vehicleCalibrationRoutes } from './routes/vehicle-calibrations.js'
import { vehicleCheckRoutes } from './routes/vehicle-checks.js'
import { vehicleFirmwareRoutes } from './routes/vehicle-firmware.js'
import { vehicleRevisionRoutes } from './routes/vehicle-revisions.js'
import { vehicleRoutes } from './routes/vehicles.js'
import { worksheetRoutes } from './routes/worksheets.js'

export interface AppParts {
  readonly config: Config
  /** Everything that is kept. Whoever opened it closes it. */
  readonly store: Store
  readonly clock: Clock
  /** Where the log goes; left out: nowhere. */
  readonly logger?: FastifyBaseLogger
}

/** The application, ready for `inject` or `listen`: a table of contents of its plugins and routes. */
export async function buildApp({ config, store, clock, logger }: AppParts): Promise<App> {
  const leave = leaveToRead(config.corsOrigins)
  const front = new Front({
    queue: { afterMs: config.shedAfterMs, aboveUtilization: config.shedAbovePercent / 100 },
    leaveToRead: leave,
    stallMs: config.answerStallMs,
    requestTimeoutMs: config.requestTimeoutMs,
  })
  const app = Fastify({
    ...(logger === undefined ? { logger: false } : { loggerInstance: logger }),
    // One line a request, written by what stands before the framework.
    logController: new LogController({ disableRequestLogging: true, requestIdLogLabel: 'requestId' }),
    genReqId: requestIdOf,
    serverFactory: front.makeServer,
    bodyLimit: config.bodyLimitBytes,
    requestTimeout: config.requestTimeoutMs,
    // Without these two the request timeout is not looked at for half a minute.
    http: {
      headersTimeout: config.headersTimeoutMs,
      connectionsCheckingInterval: 500,
      requireHostHeader: false,
    },
    // Requests that come in on open connections while closing are still answered.
    return503OnClosing: false,
    trustProxy: config.trustProxy.length === 0 ? false : [...config.trustProxy],
    routerOptions: { maxParamLength: 200, querystringParser: readQuery },
    frameworkErrors: frameworkErrorHandler(leave),
    clientErrorHandler: clientErrorHandler(front),
  }).withTypeProvider<TypeBoxTypeProvider>() as unknown as App

  front.register(app)
  // First: a route keeps the error handler that it finds.
  registerProblems(app)
  await registerCors(app, config.corsOrigins)
  registerAddresses(app)
  const checkOf = schemaChecks(registerFirstUse(app))
  registerValidation(app, checkOf)
  registerBodyLimits(app, config.bodyLimitBytes)
  registerSerialization(app)
  registerStrictJson(app)
  await registerOpenApi(app)
  registerAccess(app, { store, ratePerAddress: config.ratePerAddress, ratePerKey: config.ratePerKey })
  registerBodyBytes(app, config.bodiesBytes)
  registerRepeats(app, store)

  const methods = collectMethods(app)
  const sizes = new SizeTables(store.tireSizes)
  await sizes.refresh()
  registerKeepingUp(app, () => sizes.keepUp())
  const turns = new Turns()
  const options = {
    sizeTable: sizes.find,
    store,
    clock,
    cursors: new Cursors(await store.instance.cursorSecret()),
    readJson: jsonReader(checkOf),
    runJob: registerWorkerPool(app, config.workers),
    takeRaw,
    oneOfCaller: oneAtATime(),
    nextTurn: () => turns.next(),
  }
  const limits = { ...config.batches, wasSilentWithin: front.queue.wasSilentWithin }
  const batches = {
    answerBatch: registerBatches(app, limits, turns),
    takeLines: (scope: App) => takeNdjson(scope, limits),
    problemOf,
  }
  vehicleCheckRoutes(app, options)
  await vehicleBatchRoutes(app, options, batches)
  tireRoutes(app, options)
  drivePathRoutes(app, options)
  gaugeRoutes(app, options)
  gaugeCalibrationRoutes(app)
  dialScaleRoutes(app)
  cableBenchRoutes(app, options)
  odometerRoutes(app, options)
  await odometerTrackRoutes(app, options)
  pulseRoutes(app, options)
  await signalRoutes(app, options)
  vehicleRoutes(app, options)
  savedVehicleCheckRoutes(app, options, batches)
  vehicleRevisionRoutes(app, options)
  pickUpRoutes(app, options)
  electricsRoutes(app, options)
  gearRoutes(app, options)
  cableDragRoutes(app)
  faultRoutes(app)
  await partRoutes(app, options)
  await fitRoutes(app, options)
  await tireSizeRoutes(app, options, sizes)
  firmwareRoutes(app, options)
  vehicleCalibrationRoutes(app, options)
  vehicleFirmwareRoutes(app, options)
  worksheetRoutes(app, options)
  referenceRoutes(app)
  serveDocument(app)
  servePages(app)
  const readiness = new Readiness(store.health, clock)
  const metrics = new Metrics(front, store.health, app.server)
  healthRoutes(app, {
    readiness: () => readiness.checks(),
    metrics: () => metrics.text(),
    metricsFor: config.metrics,
  })
  app.decorate('turnAway', () => readiness.turnAway())
  app.decorate('inHand', front.inHand)
  app.decorate('endConnections', () => front.endConnections(app.server))
  answerOtherMethods(app, methods)
  return app
}

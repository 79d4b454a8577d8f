import cluster from 'node:cluster'

/** Whether this process of the service prints what would be the same of each. */
export const speaksForAll = (): boolean => cluster.worker === undefined || cluster.worker.id === 1

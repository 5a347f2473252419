# The jobs, as the host sees them.

job_boot() {
    machine_job boot 400 boot -object can-bus,id=bus \
        -device kvaser_pci,canbus=bus -device kvaser_pci,canbus=bus
}

job_ci() {
    job_boot
    count=10
    job_can_flood
    job_bus_faults
    count=5
    job_power_cuts
    job_control
    count=30
    job_drive_cache
    count=10
    job_kill_nine
}

job_can_flood() {
    local seconds=${count:-60}
    machine_job can-flood $((240 + seconds * 2)) "can-flood seep.seconds=$seconds"
}

job_bus_faults() {
    machine_job bus-faults 600 bus-faults -object can-bus,id=bus \
        -device kvaser_pci,canbus=bus -device kvaser_pci,canbus=bus
}

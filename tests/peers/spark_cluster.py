"""The worked queries on Apache Spark, in its cluster of processes on one machine: a master
and two workers of their own, with work shipped to them and shuffled between them."""

import functools
import os
import pathlib

import pyspark
from pyspark.sql import SparkSession

QUERIES = pathlib.Path(__file__).parent / "queries"
CLUSTER = "local-cluster[2,1,1536]"


@functools.cache
def session():
    os.environ.setdefault("SPARK_HOME", os.path.dirname(pyspark.__file__))
    builder = SparkSession.builder.master(CLUSTER).appName("worked queries")
    settings = {
        "spark.ui.enabled": "false",
        "spark.executor.memory": "1536m",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.shuffle.partitions": "8",
        # As text: the folders of a day read as dates would be cast once more.
        "spark.sql.sources.partitionColumnTypeInference.enabled": "false",
    }
    for name, value in settings.items():
        builder = builder.config(name, value)
    running = builder.getOrCreate()
    running.sparkContext.setLogLevel("ERROR")
    return running


def by_spark(folder, query):
    """Rows of one worked query over the data set in a folder."""
    readings = session().read.option("basePath", str(folder)).option("mergeSchema", "true").parquet(str(folder))
    readings.createOrReplaceTempView("readings")
    return [tuple(row) for row in session().sql((QUERIES / f"{query}.sql").read_text()).collect()]
